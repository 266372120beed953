"""What the desk says is what the command says, to the sign."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from pipeline.cli import app
from pipeline.desk.answers import VIEWS, View
from pipeline.desk.app import build_app
from pipeline.desk.desk import Desk
from pipeline.workspace import DESK_FOLDER
from tests.desks import write_fitted_shop

PORT = 8199
ON = {"as_of": "2023-01-15"}
SAID = {
    "/stock": {"file": "exports/stock.csv", "by": "silhouette", **ON},
    "/lots": {"file": "exports/upcoming_lots.csv", **ON},
    "/outcomes": ON,
    "/understood": {},
    "/pricing": ON,
}
TYPED: dict[str, str | None] = {"file": None, "as_of": "--on"}
PAGES = [view for view in VIEWS if view.path in SAID]


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Return a client that has entered the desk of a folder with a fit."""
    folder = write_fitted_shop(tmp_path_factory.mktemp("desk"))
    (folder / DESK_FOLDER).mkdir()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        with Desk(Path.cwd(), port=PORT) as desk:
            found = TestClient(build_app(desk), base_url=f"http://127.0.0.1:{PORT}")
            found.get(desk.first_address)
            yield found


def answered(client: TestClient, path: str, said: dict[str, str]) -> str:
    """Return the page of an answer once its work is done."""
    for _ in range(600):
        page = client.get(path, params=said).text
        if "data-work=" not in page:
            return page
    raise TimeoutError(path)


def words_of(page: str) -> list[str]:
    """Return the words of what a page says, apart from the links that a desk makes of commands and options."""
    [main] = re.findall(r'<main id="main".*?</main>', page, re.DOTALL)
    main = re.sub(r'<code>pairband [^<]*</code>|<a href="/[^<]*</a>', " ", main)
    text = re.sub(r"<script.*?</script>|<svg.*?</svg>|<[^>]*>", " ", main, flags=re.DOTALL)
    return unescape(text).replace("--on", "Valued on").split()


def typed(said: dict[str, str]) -> list[str]:
    """Return what would be typed for the fields of a form."""
    options = [(TYPED.get(name, f"--{name}"), text) for name, text in said.items()]
    return [f"{option}={text}" if option else text for option, text in options]


@pytest.mark.parametrize("view", PAGES, ids=[view.command for view in PAGES])
def test_a_page_of_the_desk_says_what_the_page_of_the_command_says(
    client: TestClient, view: View, tmp_path: Path
) -> None:
    made = tmp_path / "page.html"
    done = CliRunner().invoke(app, [view.command, *typed(SAID[view.path]), f"--page={made}"])
    assert done.exit_code in (0, 3), done.output
    assert words_of(answered(client, view.path, SAID[view.path])) == words_of(
        made.read_text(encoding="utf-8")
    )


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_table_that_the_desk_gives_is_the_command_s_file(
    client: TestClient, kind: str, tmp_path: Path
) -> None:
    made = tmp_path / f"stock.{kind}"
    option = {"csv": "--csv", "xlsx": "--excel"}[kind]
    done = CliRunner().invoke(app, ["stock", *typed(SAID["/stock"]), f"{option}={made}"])
    assert done.exit_code == 0, done.output
    answered(client, "/stock", SAID["/stock"])
    assert client.get(f"/stock/file/{kind}", params=SAID["/stock"]).content == made.read_bytes()
