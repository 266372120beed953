"""No option that names an output can harm what the owner keeps, whatever command has it."""

from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from pipeline.cli import COMMANDS, app
from pipeline.errors import PairbandError, ReportError, UnknownName
from pipeline.options import OUTPUT, Command
from pipeline.outputs import FigureFile, Outputs
from pipeline.workspace import Workspace
from tests.faults import Folder, make_folder

CONTEXT = click.Context(app)
OUTPUTS = [
    (name, parameter.opts[0])
    for name in COMMANDS
    for parameter in app.get_command(CONTEXT, name).params  # type: ignore[union-attr]
    if parameter.type is OUTPUT
]
LEADS_TO = {"--to": ["--figure", "any"]}
NEEDED = {"stock": ["stock.csv"], "changed": ["stock.csv"]}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Folder:
    return make_folder(tmp_path_factory.mktemp("outputs") / "base", sales=3)


def test_every_command_is_guarded() -> None:
    assert [name for name in COMMANDS if not isinstance(app.get_command(CONTEXT, name), Command)] == []


def test_the_outputs_are_found() -> None:
    assert {option for _, option in OUTPUTS} == {
        "--page",
        "--csv",
        "--excel",
        "--to",
        "--bid-sheet",
        "--tickets",
        "--pairs",
    }


@pytest.mark.parametrize("force", [[], ["--force"]])
@pytest.mark.parametrize(
    "kept", ["market.toml", "pairband.duckdb", "pairband.duckdb.wal", "pairband.copies.jsonl"]
)
@pytest.mark.parametrize(("name", "option"), OUTPUTS)
def test_an_output_never_takes_the_place_of_ledger_or_market_file(
    name: str, option: str, kept: str, force: list[str], folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder.path)
    before = {path.name: path.read_bytes() for path in folder.path.iterdir() if path.is_file()}
    said = CliRunner().invoke(
        app, [name, *NEEDED.get(name, []), option, kept, *LEADS_TO.get(option, []), *force]
    )
    assert isinstance(said.exception, ReportError)
    assert {path.name: path.read_bytes() for path in folder.path.iterdir() if path.is_file()} == before
    assert f"{kept} is " in str(said.exception)


@pytest.mark.parametrize("force", [[], ["--force"]])
def test_an_output_never_takes_the_place_of_the_file_that_is_read(
    force: list[str], folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder.path)
    Path("stock.csv").write_text("item\n", encoding="utf-8")
    said = CliRunner().invoke(app, ["restore", "stock.csv", "--csv", "./stock.csv", *force])
    assert "stock.csv is read by this command" in str(said.exception)


def test_two_outputs_do_not_go_to_one_file(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder.path)
    said = CliRunner().invoke(app, ["lots", "lots.csv", "--csv", "out", "--excel", "out"])
    assert "two outputs are to go to out" in said.output


@pytest.mark.parametrize("ledger", ["", ".", ".."])
def test_a_folder_for_a_ledger_is_refused_in_words(
    ledger: str, folder: Folder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder.path)
    said = CliRunner().invoke(app, ["report", "pages", "--ledger", ledger])
    assert isinstance(said.exception, PairbandError)


def test_a_figure_of_a_page_without_any_is_refused_in_words() -> None:
    outputs = Outputs(Workspace.open("nowhere"), False, None, FigureFile("band", None, None), None, None)

    with pytest.raises(UnknownName, match=r"'band'.*\n?.*it has none"):
        outputs.draw(["an answer"], lambda answer, *, business: f"{answer} of {business}")
