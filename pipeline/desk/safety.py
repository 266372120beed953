"""Who may ask the desk, and what a browser may do with its answers.

The loopback address keeps other machines out. What is kept out here is other pages in the owner's own browser: a page
of elsewhere that posts a form (cross-site request), a name of elsewhere that points at this machine (DNS rebinding), a
frame around the desk, a script in a text of an export; and other users of this machine, who do not know the secret.
"""

from collections.abc import Iterable
from secrets import compare_digest
from urllib.parse import parse_qs

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import cookie_parser
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from pipeline.desk.server import HOST

ENTRY = "/enter"
"""The path of the first address, which carries the secret once."""

MOST_BODY = 1_100_000_000
"""Bytes of a request: a file as large as an export may be, and the form around it."""

MOST_TYPED = 10_000_000
"""Bytes of a request without files: the longest market file, and the form around it."""

_TOO_LARGE = "This is larger than the desk takes: at most 1 GB a file, and 10 MB of text."

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}
_ONLY_READS = ("GET", "HEAD")


class Safety:
    """The desk behind its checks; whatever fails one gets a short answer and reaches nothing."""

    def __init__(self, app: ASGIApp, *, port: int, entry_secret: str, cookie_secret: str) -> None:
        self._app = app
        self._hosts = (f"{HOST}:{port}", f"localhost:{port}")
        self._entry_secret = entry_secret
        self._cookie_secret = cookie_secret
        self._cookie = f"pairband-desk-{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        guarded = _with_headers(send)
        headers = Headers(scope=scope)
        if (refusal := self._refusal(scope, headers)) is not None:
            await refusal(scope, receive, guarded)
        elif scope["path"] == ENTRY:
            await self._enter(scope)(scope, receive, guarded)
        else:
            await self._answer(scope, _at_most(receive, _most_body(headers)), guarded)

    async def _answer(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Have the desk answer; an error that was answered and logged goes no further."""
        begun = False

        async def noted(message: Message) -> None:
            nonlocal begun
            begun = True
            await send(message)

        try:
            await self._app(scope, receive, noted)
        except Exception:
            if not begun:
                raise

    def _refusal(self, scope: Scope, headers: Headers) -> Response | None:
        """Return the answer to a request that is not the owner's own; None for one that is."""
        host = headers.get("host", "")
        if len(headers.getlist("host")) != 1 or host not in self._hosts:
            return PlainTextResponse("The desk answers to its own address only.", 421)
        if not self._is_from_here(scope["method"], headers, f"http://{host}"):
            return PlainTextResponse("This came from another site; the desk did nothing.", 403)
        length = _length(headers)
        if length is None:
            return PlainTextResponse("This request does not say how long it is.", 400)
        if length > _most_body(headers):
            return PlainTextResponse(_TOO_LARGE, 413)
        if scope["path"] != ENTRY and not self._has_cookie(headers):
            words = "This browser has not entered the desk: open the address that `pairband desk` printed."
            return PlainTextResponse(words, 403)
        return None

    def _is_from_here(self, method: str, headers: Headers, own: str) -> bool:
        """Return whether a request comes from a page of the desk, or from the owner's address bar."""
        site = headers.get("sec-fetch-site")
        if method not in _ONLY_READS:
            return headers.getlist("origin") == [own] and site in (None, "same-origin")
        return site in (None, "same-origin", "none") and headers.get("origin") in (None, own)

    def _has_cookie(self, headers: Headers) -> bool:
        held = cookie_parser(headers.get("cookie", "")).get(self._cookie, "")
        return compare_digest(held.encode(), self._cookie_secret.encode())

    def _enter(self, scope: Scope) -> Response:
        said = parse_qs(scope["query_string"].decode("latin-1")).get("key", [""])[0]
        if scope["method"] != "GET" or not compare_digest(said.encode(), self._entry_secret.encode()):
            return PlainTextResponse("This is not the address that `pairband desk` printed.", 403)
        response = RedirectResponse("/", 303)
        response.set_cookie(self._cookie, self._cookie_secret, httponly=True, samesite="strict", path="/")
        return response


def _length(headers: Headers) -> int | None:
    """Return how long a body is said to be, 0 where nothing is said; None where that is no one number."""
    said = headers.getlist("content-length")
    if not said:
        return 0
    return (
        int(said[0])
        if len(said) == 1 and said[0].isascii() and said[0].isdigit() and len(said[0]) < 20
        else None
    )


def _most_body(headers: Headers) -> int:
    """Return how many bytes a body may have: a form may carry files."""
    return MOST_BODY if headers.get("content-type", "").startswith("multipart/form-data") else MOST_TYPED


def _with_headers(send: Send) -> Send:
    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return guarded


def _at_most(receive: Receive, most: int) -> Receive:
    """Give a request's body, at most so many bytes of it; raises HTTPException (413) beyond."""
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > most:
            raise HTTPException(413, _TOO_LARGE)
        return message

    return counted


def is_local_path(path: str) -> bool:
    """Return whether a text is a path of the desk, to go to next, and leads nowhere else."""
    return path.startswith("/") and not path.startswith("//") and not _any_of(path, "\\\r\n\t")


def _any_of(text: str, signs: Iterable[str]) -> bool:
    return any(sign in text for sign in signs)
