"""Nobody but the owner's own browser, once it has entered, gets anything out of the desk, or anything done."""

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.routing import BaseRoute, Route

from pipeline.desk.routes import other_routes
from pipeline.desk.safety import MOST_TYPED, POLICY, is_local_path
from pipeline.workspace import DESK_FOLDER
from tests.desk_client import OWN, PORT, OpenDesk, open_desk, write_shop

COOKIE = f"pairband-desk-{PORT}"
TRAVERSING = (
    "..",
    "%2e%2e",
    "..%2f..%2fmarket.toml",
    "%2fetc%2fpasswd",
    "..%5c..%5cmarket.toml",
    "market.toml%00.csv",
    "C:%5cWindows",
    "%ff%fe",
    "a" * 3000,
)
INVENTED = {"id": "x", "kind": "csv", "name": "x", "number": "1"}


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenDesk]:
    """Return one open desk for all attacks; none of them may change anything in its folder."""
    folder = tmp_path_factory.mktemp("attacked")
    write_shop(folder)
    with open_desk(folder) as opened:
        yield opened


@pytest.fixture(scope="module")
def stranger(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenDesk]:
    """Return an open desk and a browser that has not entered it."""
    folder = tmp_path_factory.mktemp("not entered")
    write_shop(folder)
    with open_desk(folder, enters=False) as opened:
        yield opened


def routes_of(opened: OpenDesk) -> list[Route]:
    """Return every route of a desk."""
    app = opened.client.app._app  # type: ignore[attr-defined]  # what lies behind the checks
    assert isinstance(app, Starlette)
    found: list[BaseRoute] = [*app.routes, *other_routes()]
    return [one for one in found if isinstance(one, Route)]


def address_of(route: Route, value: str | None = None) -> str:
    """Return an address of a route, its parameters invented, or all of one value."""
    return re.sub(r"{(\w+)(?::\w+)?}", lambda found: value or INVENTED.get(found[1], "x"), route.path)


def files_of(opened: OpenDesk) -> dict[str, bytes]:
    """Return all that lies in a dealer's folder, but for the desk's own files."""
    folder = opened.desk.folder
    return {
        str(one.relative_to(folder)): one.read_bytes()
        for one in sorted(folder.rglob("*"))
        if one.is_file() and DESK_FOLDER not in one.parts
    }


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        f"evil.example:{PORT}",
        f"127.0.0.1.evil.example:{PORT}",
        "127.0.0.1",
        f"127.0.0.1:{PORT + 1}",
        f"127.0.0.1:{PORT}.evil.example",
        f"user@127.0.0.1:{PORT}",
        f"[::1]:{PORT}",
        f"0.0.0.0:{PORT}",
        f"LOCALHOST.:{PORT}",
        "",
    ],
)
def test_a_name_of_elsewhere_that_points_here_gets_nothing(shop: OpenDesk, host: str) -> None:
    for path in ("/", "/desk.css", "/enter"):
        answered = shop.client.get(path, headers={"host": host})
        assert (answered.status_code, "pairband desk" in answered.text) == (421, False)


def test_a_second_host_is_one_too_many(shop: OpenDesk) -> None:
    both = [("host", f"127.0.0.1:{PORT}"), ("host", "evil.example"), ("origin", OWN)]
    assert shop.client.get("/", headers=both).status_code == 421  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "origin",
    [
        "null",
        "",
        "https://127.0.0.1:8199",
        "http://127.0.0.1",
        "http://127.0.0.1:8200",
        "http://evil.example",
        f"http://localhost:{PORT}",
        f"{OWN}.evil.example",
        f"{OWN}/",
    ],
)
def test_a_form_of_another_page_changes_nothing(shop: OpenDesk, origin: str) -> None:
    assert shop.client.post("/fit", headers={"origin": origin}).status_code == 403
    assert not [job for job in shop.desk.jobs.all() if job.writes]


def test_a_post_that_does_not_say_where_it_comes_from_changes_nothing(shop: OpenDesk) -> None:
    del shop.client.headers["origin"]
    try:
        assert shop.client.post("/fit").status_code == 403
    finally:
        shop.client.headers["origin"] = OWN
    twice = [("origin", OWN), ("origin", "http://evil.example")]
    assert shop.client.post("/fit", headers=twice).status_code == 403  # type: ignore[arg-type]


@pytest.mark.parametrize("site", ["cross-site", "same-site", "none", "other"])
def test_a_post_that_the_browser_calls_foreign_changes_nothing(shop: OpenDesk, site: str) -> None:
    assert shop.client.post("/fit", headers={"sec-fetch-site": site}).status_code == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
@pytest.mark.parametrize("path", ["/", "/desk.js", "/care", "/enter"])
def test_another_page_can_load_nothing_of_the_desk(shop: OpenDesk, site: str, path: str) -> None:
    assert shop.client.get(path, headers={"sec-fetch-site": site}).status_code == 403


def test_an_address_that_is_typed_is_the_owners_own(shop: OpenDesk) -> None:
    assert shop.client.get("/care", headers={"sec-fetch-site": "none"}).status_code == 200


@pytest.mark.parametrize("cookie", ["", "x", "%00", "é", "a" * 5000, '"', ";;;=", "\u00ff"])
def test_who_has_not_entered_gets_nothing(stranger: OpenDesk, cookie: str) -> None:
    for route in routes_of(stranger):
        headers = {"cookie": f"{COOKIE}={cookie}".encode()}
        answered = stranger.client.get(address_of(route), headers=headers)  # type: ignore[arg-type]
        assert (answered.status_code, "has not entered" in answered.text) == (403, True)


def test_a_cookie_of_another_desk_does_not_open_this_one(stranger: OpenDesk) -> None:
    headers = {"cookie": f"pairband-desk-9999={stranger.desk.cookie_secret}"}
    assert stranger.client.get("/", headers=headers).status_code == 403


def test_a_broken_cookie_beside_the_right_one_keeps_nobody_out(stranger: OpenDesk) -> None:
    headers = {"cookie": f'odd[name]="; x\\y; {COOKIE}={stranger.desk.cookie_secret}; z=@'}
    assert stranger.client.get("/care", headers=headers).status_code == 200


@pytest.mark.parametrize("key", ["", "x", "a" * 43, "a" * 60_000, "%ff", "\u00e9"])
def test_a_guessed_key_enters_nowhere(stranger: OpenDesk, key: str) -> None:
    answered = stranger.client.get("/enter", params={"key": key}, follow_redirects=False)
    assert (answered.status_code, "set-cookie" in answered.headers) == (403, False)


@pytest.mark.parametrize("method", ["POST", "HEAD", "PUT"])
def test_the_key_enters_only_as_an_address_that_is_opened(stranger: OpenDesk, method: str) -> None:
    address = stranger.desk.first_address
    assert stranger.client.request(method, address, follow_redirects=False).status_code == 403


def test_secrets_are_long_and_each_of_its_own(shop: OpenDesk, stranger: OpenDesk) -> None:
    secrets = {
        one for opened in (shop, stranger) for one in (opened.desk.entry_secret, opened.desk.cookie_secret)
    }
    assert len(secrets) == 4
    assert all(len(one) >= 43 for one in secrets)


def test_the_key_is_left_behind_as_the_desk_is_entered(shop: OpenDesk) -> None:
    entered = shop.client.get(shop.desk.first_address, follow_redirects=False)
    assert (entered.status_code, entered.headers["location"]) == (303, "/")
    assert entered.headers["referrer-policy"] == "same-origin"
    assert entered.headers["cache-control"] == "no-store"
    flags = entered.headers["set-cookie"].lower()
    assert "httponly" in flags
    assert "samesite=strict" in flags
    assert "domain" not in flags
    assert shop.desk.entry_secret not in shop.client.get("/care").text


@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_no_address_changes_anything_by_being_looked_at(shop: OpenDesk, method: str) -> None:
    before = files_of(shop)
    for route in routes_of(shop):
        shop.client.request(method, address_of(route), follow_redirects=False)
    shop.settle()
    assert files_of(shop) == before
    assert not [job for job in shop.desk.jobs.all() if job.writes]


@pytest.mark.parametrize("value", TRAVERSING)
def test_no_part_of_an_address_leads_out_of_the_desk(shop: OpenDesk, value: str) -> None:
    market = Path("market.toml").read_text(encoding="utf-8")[:60]
    for route in routes_of(shop):
        if "{" in route.path:
            answered = shop.client.get(address_of(route, value), follow_redirects=False)
            assert answered.status_code < 500, (route.path, answered.text[-400:])
            assert "root:" not in answered.text
            assert market not in answered.text


@pytest.mark.parametrize(
    "path",
    ["//evil.example", "https://evil.example", "/\\evil", "\\\\evil", "/a\r\nb", "/\t/evil", "", "evil"],
)
def test_what_comes_next_is_a_page_of_the_desk(shop: OpenDesk, path: str) -> None:
    assert not is_local_path(path)
    job = shop.desk.jobs.start("Nothing", lambda _: None, writes=False)
    job.wait(10)
    answered = shop.client.get(f"/work/{job.id}", params={"then": path}, follow_redirects=False)
    assert (answered.status_code, "evil" in answered.text) == (200, False)


@pytest.mark.parametrize("length", ["-1", "x", "1e3", "0x10", "٣", "9" * 30, "1,1", " "])
def test_a_length_that_is_no_number_is_refused(shop: OpenDesk, length: str) -> None:
    headers = {"content-length": length.encode()}
    assert shop.client.post("/draft", headers=headers, content=b"{}").status_code in (400, 413)  # type: ignore[arg-type]


def test_a_body_longer_than_a_form_can_be_is_refused(shop: OpenDesk) -> None:
    said = b'{"form":"x","said":{"a":"' + b"a" * MOST_TYPED + b'"}}'
    assert shop.client.post("/draft", content=said).status_code == 413
    assert shop.client.post("/draft", content=iter([said])).status_code == 413
    assert shop.desk.drafts.get("x") == {}


def test_thousands_of_fields_are_refused(shop: OpenDesk) -> None:
    many = {f"eras.{number}.name": "x" for number in range(5000)}
    assert shop.client.post("/care/recover", data=many).status_code == 400


@pytest.mark.parametrize("content", [b"", b"[1]", b"{", b'{"form":1}', b"\xff\xfe", b"[" * 100_000])
def test_what_is_no_draft_is_refused(shop: OpenDesk, content: bytes) -> None:
    assert shop.client.post("/draft", content=content).status_code == 400


@pytest.mark.parametrize("method", ["TRACE", "OPTIONS", "PUT", "DELETE", "PATCH", "CONNECT", "BREW"])
def test_no_other_method_does_anything(shop: OpenDesk, method: str) -> None:
    assert shop.client.request(method, "/fit").status_code == 405
    without = shop.client.request(method, "/fit", headers={"origin": "http://evil.example"})
    assert (without.status_code, "access-control-allow-origin" in without.headers) == (403, False)


@pytest.mark.parametrize(
    ("path", "headers"),
    [
        ("/", {}),
        ("/care", {}),
        ("/desk.css", {}),
        ("/no/such/page", {}),
        ("/work/x", {}),
        ("/care", {"host": "evil.example"}),
        ("/care", {"sec-fetch-site": "cross-site"}),
        ("/enter", {}),
        ("/draft", {}),
    ],
)
def test_every_answer_says_what_a_browser_may_do_with_it(
    shop: OpenDesk, path: str, headers: dict[str, str]
) -> None:
    said = shop.client.get(path, headers=headers).headers
    assert said["content-security-policy"] == POLICY
    assert said["x-content-type-options"] == "nosniff"
    assert said["x-frame-options"] == "DENY"
    assert said["cross-origin-resource-policy"] == "same-origin"
    assert "server" not in said


def test_an_unexpected_error_ends_in_words_behind_the_policy(
    shop: OpenDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise ZeroDivisionError("secret of the desk")

    monkeypatch.setattr(shop.desk.assets, "get", fail)
    answered = shop.client.get("/assets/x")
    assert answered.status_code == 500
    assert answered.headers["content-security-policy"] == POLICY
    assert "Traceback" not in answered.text


class _Inline(HTMLParser):
    """Notes whatever of a page a browser would run or load from elsewhere."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        if (tag == "script" and "src" not in said) or tag in ("style", "base", "iframe", "object", "embed"):
            self.found.append(tag)
        self.found += [name for name in said if name.startswith("on") or name == "style"]
        for name in ("src", "href", "action", "formaction"):
            value = said.get(name) or "/"
            if not value.startswith(("/", "#", "?", "data:")) or value.startswith("//"):
                self.found.append(f"{name}={value}")


def test_no_page_holds_a_script_a_style_or_an_address_of_elsewhere(shop: OpenDesk) -> None:
    pages = 0
    for route in routes_of(shop):
        answered = shop.client.get(address_of(route))
        if answered.headers["content-type"].startswith(
            "text/html"
        ) and "attachment" not in answered.headers.get("content-disposition", ""):
            parser = _Inline()
            parser.feed(answered.text)
            assert (route.path, parser.found) == (route.path, [])
            pages += 1
    assert pages > 20


def test_texts_of_a_request_are_no_part_of_a_page(shop: OpenDesk) -> None:
    sign = "<img src=x onerror=alert(1)>"
    for route in routes_of(shop):
        asked = dict.fromkeys(("q", "file", "copy", "then", "record", "silhouette", "by", "said"), sign)
        assert sign not in shop.client.get(address_of(route), params=asked).text
