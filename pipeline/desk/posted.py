"""What a form of the desk sent."""

from anyio import from_thread
from starlette.datastructures import FormData
from starlette.requests import Request

MOST_FIELDS = 2_000
"""Fields of one form: the market file's largest lists, row by row."""


def posted(request: Request) -> dict[str, str]:
    """Return the texts of the form that a request sends, by field, for a view that runs in a thread.

    Raises HTTPException (400) for a form of more than MOST_FIELDS fields, or one with files.
    """

    async def read() -> FormData:
        return await request.form(max_files=0, max_fields=MOST_FIELDS)

    return {name: value for name, value in from_thread.run(read).items() if isinstance(value, str)}
