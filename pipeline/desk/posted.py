"""What a form of the desk sent."""

from anyio import from_thread
from starlette.datastructures import FormData
from starlette.requests import Request

MOST_FIELDS = 2_000
"""Fields of one form, where a view does not allow more."""


def posted(request: Request, *, most_fields: int = MOST_FIELDS) -> dict[str, str]:
    """Return the texts of the form that a request sends, by field, for a view that runs in a thread.

    Raises HTTPException (400) for a form of more than `most_fields` fields, or one with files.
    """

    async def read() -> FormData:
        return await request.form(max_files=0, max_fields=most_fields)

    return {name: value for name, value in from_thread.run(read).items() if isinstance(value, str)}
