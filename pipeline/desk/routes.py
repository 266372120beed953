"""Every route of the desk, in two parts: those of the first page, and all others, which load once that is answered."""

from functools import cache

from starlette.concurrency import run_in_threadpool
from starlette.routing import BaseRoute, Router
from starlette.types import Receive, Scope, Send

from pipeline.desk import home, work


def first_routes() -> list[BaseRoute]:
    """Return the routes that the desk has from the beginning."""
    return [*home.routes(), *work.routes()]


@cache
def other_routes() -> tuple[BaseRoute, ...]:
    """Return all other routes; those that come first win. The first call loads the modules, which takes a second."""
    from pipeline.desk import (
        answers,
        care,
        consign,
        decisions,
        doubts,
        fitting,
        reading,
        reading_map,
        reading_rows,
        record,
        records,
        start,
        value,
    )
    from pipeline.desk.market_file import views as market_file

    parts = (
        start,
        reading,
        records,
        record,
        doubts,
        decisions,
        market_file,
        value,
        consign,
        reading_map,
        reading_rows,
        fitting,
        care,
        answers,
    )
    return tuple(route for part in parts for route in part.routes())


async def answer_others(scope: Scope, receive: Receive, send: Send) -> None:
    """Answer a request that is for none of the first routes."""
    routes = await run_in_threadpool(other_routes)
    await Router(routes, redirect_slashes=False)(scope, receive, send)
