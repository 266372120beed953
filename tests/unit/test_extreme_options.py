"""Whatever is written behind an option or argument of any command ends in words, never in a traceback.

The commands' own lists of parameters make the table, so that a new option is tried by itself.
"""

import os
from io import BytesIO, TextIOWrapper
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from pipeline.answers.fit.run import fit_ledger
from pipeline.cli import COMMANDS as NAMES
from pipeline.cli import app, main
from pipeline.config import load_market
from pipeline.ledger import open_ledger
from pipeline.options import Day
from tests.exports import LOADED_AT, ingest, write_lantern

HERE = Path(__file__).parents[1]
CONTEXT = click.Context(app)
LOTS = """
[maps.watch]
venue = "Lantern Dock"
files = "watch*.csv"
holds = "lots"
price_basis = "all-in"
columns = { lot_ref = "item", title = "title", closed_on = "ended", price_native = "bid", size_label = "size" }

[maps.stock]
venue = "Lantern Dock"
files = "stock*.csv"
holds = "stock"
columns = { stock_ref = "item", title = "title", size_label = "size", grade = "grade" }
"""
NEEDED: dict[str, tuple[str, ...]] = {
    "map": ("lantern_2021.csv",),
    "ingest": ("lantern_2021.csv",),
    "rule": ("hold", "0123456789abcdef"),
    "appraise": ("--silhouette", "Gannet Hi"),
    "consign": ("--silhouette", "Gannet Hi"),
    "lots": ("watch.csv",),
    "restore": ("stock.csv",),
    "stock": ("stock.csv",),
    "changed": ("stock.csv",),
    "recover": ("nothing.duckdb",),
}
"""What a command needs before it does anything."""

BESIDE: dict[str, tuple[str, ...]] = {
    "row": ("--file", "stock.csv"),
    "at_price": ("--era-odds", "first=0.5,second=0.5"),
    "figure_format": ("--figure", "value"),
    "to": ("--figure", "value"),
    "era_odds": (),
    **dict.fromkeys(("lasting", "factory_code", "stamp", "made"), ("--era-odds", "sales")),
}
"""What an option needs beside it."""

SLOW = ("market", "audit", "pricing", "report", "demo")
"""Commands that take seconds; what others have as well is tried there."""

TEXTS = (
    *(
        "",
        " ",
        "--",
        "none",
        "nan",
        "1e999",
        "10" * 20,
        "\u0661\u0662",
        "=1+1",
        "%s{0}",
        "x" * 300,
        "x" * 100_000,
    ),
    *("a\nb", "\x1b[31m", "\udcff", "\u202e😀", ",,,", "first=1e308", "UK 99999999999999999999", "EU 43 1/0"),
)
NUMBERS = (
    *(
        "1e308",
        "1e309",
        "-1e308",
        "1e-308",
        "-0",
        "-0.0",
        "nan",
        "inf",
        "0",
        "1",
        str(10**30),
        str(-(10**30)),
    ),
    *("1_000", "0x10", "½", "\u0661", "", "9" * 5000, "1e", "true"),
)
DAYS = (
    *("0001-01-01", "9999-12-31", "0000-00-00", "1899-12-31", "2101-01-01", "1900-01-01", "2100-12-31"),
    *("2024-02-30", "24-1-1", "today", "", "2024-01-01T00:00:00", "-2024-01-01", "99999-01-01"),
)
FILES = (
    "",
    "/dev/zero",
    "pipe",
    ".",
    "n" * 300,
    "\udcff.csv",
    "a\nb.csv",
    "nowhere/at/all.csv",
    "locked/file.csv",
)


FOLDERS = ("", "pipe", "/dev/zero", "n" * 300, "\udcff")
OUTPUTS, WAITING = ("page", "to", "csv", "excel"), ("pipe", "/dev/zero")
"""A file that is written may be a pipe or a device on purpose, and then waits for who reads it."""


def _values(parameter: click.Parameter) -> tuple[str, ...]:
    if parameter.name == "directory":
        return FOLDERS
    if isinstance(parameter.type, click.Path):
        return tuple(name for name in FILES if not (parameter.name in OUTPUTS and name in WAITING))
    if isinstance(parameter.type, Day):
        return DAYS
    if isinstance(parameter.type, click.FloatRange | click.IntRange) or parameter.type in (
        click.INT,
        click.FLOAT,
    ):
        return NUMBERS
    return TEXTS


def _table() -> list[tuple[str, str]]:
    """Return every parameter that takes a value, with the first command that has it: shared ones are tried once."""
    table: dict[object, tuple[str, str]] = {}
    for name in sorted(NAMES, key=lambda name: (name in SLOW, list(NAMES).index(name))):
        for parameter in app_parameters(name):
            if not getattr(parameter, "is_flag", False):
                own = name if isinstance(parameter, click.Argument) else ""
                key = (own, parameter.name, repr(parameter.type), repr(parameter.callback))
                table.setdefault(key, (name, str(parameter.name)))
    return list(table.values())


def _arguments(command: str, parameter: click.Parameter, value: str) -> list[str]:
    needed = list(NEEDED.get(command, ()))
    beside = BESIDE.get(str(parameter.name), ())
    if isinstance(parameter, click.Argument):
        at = [one.name for one in app_parameters(command) if isinstance(one, click.Argument)].index(
            parameter.name
        )
        return [*needed[:at], *needed[at + 1 :], "--", value] if at == 0 else [*needed[:at], value]
    if "--file" in beside:
        needed = []
    if parameter.opts[0] in needed:
        needed = []
    return [*needed, *beside, f"{parameter.opts[0]}={value}"]


def app_parameters(command: str) -> list[click.Parameter]:
    """Return the parameters of a command."""
    found = app.get_command(CONTEXT, command)
    assert found is not None
    return found.params


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a market file, exports, and a ledger that was fitted."""
    folder = tmp_path_factory.mktemp("shop")
    text = (HERE / "market.toml").read_text(encoding="utf-8")
    (folder / "market.toml").write_text(text + LOTS, encoding="utf-8")
    rows = [
        f"L{n},,Gannet Hi first run,2024-01-01,2024-0{1 + n % 9}-03,,{100 + n},sold,UK 9,{5 + n % 4},original"
        for n in range(30)
    ]
    export = write_lantern(folder, *rows)
    with open_ledger(folder / "pairband.duckdb", create=True) as ledger:
        ingest(ledger, load_market(folder / "market.toml"), [export])
    fit_ledger(folder / "pairband.duckdb", folder / "market.toml", fitted_at=LOADED_AT)
    (folder / "watch.csv").write_text("item,title,ended,bid,size\n1,Gannet Hi first run,2027-01-01,90,UK 9\n")
    (folder / "stock.csv").write_text("item,title,size,grade\n1,Gannet Hi first run,UK 9,7\n")
    os.mkfifo(folder / "pipe")
    return folder


@pytest.mark.parametrize(("command", "name"), _table())
def test_an_extreme_value_ends_in_words(
    command: str,
    name: str,
    shop: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(
        "uvicorn.Server.run", lambda *_, **__: None
    )  # a desk that opens would go on until Ctrl-C
    monkeypatch.setattr("webbrowser.open", lambda _: True)
    [parameter] = [one for one in app_parameters(command) if one.name == name]
    told: list[str] = []
    for value in _values(parameter):
        home = tmp_path / str(len(list(tmp_path.iterdir())))
        home.mkdir()
        for file in ("market.toml", "pairband.duckdb", "lantern_2021.csv", "watch.csv", "stock.csv"):
            (home / file).write_bytes((shop / file).read_bytes())
        os.mkfifo(home / "pipe")
        monkeypatch.chdir(home)
        out, err = (TextIOWrapper(BytesIO(), "utf-8", errors) for errors in ("strict", "backslashreplace"))
        monkeypatch.setattr("sys.stdout", out)
        monkeypatch.setattr("sys.stderr", err)
        monkeypatch.setattr("sys.argv", ["pairband", command, *_arguments(command, parameter, value)])
        try:
            main()
            code: object = 0
        except SystemExit as left:
            code = left.code or 0
        except Exception as exc:  # noqa: BLE001
            code = f"{type(exc).__name__}: {exc}"
        said = err.seek(0) or err.read()
        if code not in (0, 1, 2, 3) or (code in (1, 2) and not said):
            told.append(f"{value[:40]!r}: {str(code)[:300]}")
    assert "\n".join(told) == ""


MOST, SHARE = "1_000_000_000", "0.999999"
GREATEST = f"""
[workshop]
hours = 10_000
money = {MOST}
hour_cost = {MOST}

[buying]
margin = {SHARE}
confidence = 0.99
costs = {MOST}

[rates]
oldest_days = 36_500

[consigning]
patience_days = 730
commission = [{{ party = "seller", starts_on = 0001-01-01, tiers = [{{ rate = 0.9 }}], minimum = {MOST} }}]

[[imports]]
venue = "Lantern Dock"
freight = {MOST}
duty_rate = {SHARE}
tax_rate = {SHARE}

[[treatments]]
name = "all that can be"
hours = 10_000
materials = {MOST}
grade_gain = 9
cures = ["yellowing"]
"""
FEES = (
    'fees = [\n{{ party = "seller", starts_on = 0001-01-01, '
    "tiers = [{{ up_to = {up_to}, rate = {rate} }}, {{ rate = {rate} }}], "
    "flat = {flat}, minimum = {flat}, tax_rate = {tax} }},\n"
    '{{ party = "buyer", starts_on = 9999-12-31, tiers = [{{ rate = {tax} }}] }}]\n'
    "increments = [{{ up_to = {up_to}, step = {step} }}, {{ step = {step} }}]"
)
BOUNDS = {
    "the greatest numbers": GREATEST + LOTS,
    "the least numbers": LOTS.replace("[maps.watch]", "[workshop]\nhours = 0\nmoney = 0\n[maps.watch]"),
    "the greatest fees": LOTS,
    "the least fees": LOTS,
}
OWN_FEES = {
    "the greatest fees": FEES.format(up_to=MOST, rate="0.45", tax=SHARE, flat=MOST, step=MOST),
    "the least fees": FEES.format(up_to="0.01", rate="0.000001", tax="0.000001", flat="0.01", step="0.01"),
}
ANSWERS = (
    ("check",),
    ("ingest", "lantern_2021.csv"),
    ("fit",),
    ("appraise", "--silhouette", "Gannet Hi", "--venue", "Lantern Dock"),
    ("consign", "--silhouette", "Gannet Hi"),
    ("lots", "watch.csv", "--on", "2026-12-01"),
    ("lots", "--backtest"),
    ("restore", "stock.csv"),
    ("stock", "stock.csv"),
    ("changed", "stock.csv", "--since", "2021-01-01"),
    ("doctor",),
)


@pytest.mark.parametrize("bounds", BOUNDS)
def test_numbers_that_check_calls_good_are_good_for_every_command(
    bounds: str,
    shop: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    for file in ("lantern_2021.csv", "watch.csv", "stock.csv"):
        (tmp_path / file).write_bytes((shop / file).read_bytes())
    text = (HERE / "market.toml").read_text(encoding="utf-8")
    [lantern] = [line for line in text.splitlines() if line.startswith("fees = ") and "0.09" in line]
    text = text.replace(lantern, OWN_FEES.get(bounds, lantern))
    (tmp_path / "market.toml").write_text(text + BOUNDS[bounds], encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    ended = {}
    for arguments in ANSWERS:
        monkeypatch.setattr("sys.argv", ["pairband", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        ended[" ".join(arguments)] = (left.value.code or 0, capsys.readouterr().err)
    assert {command: end for command, end in ended.items() if end[0] not in (0, 3)} == {}


@pytest.mark.parametrize(
    ("day", "said"),
    [
        ("31.02.2024", "write '31.02.2024' as year-month-day, such as 2024-05-03."),
        ("2024-02-31", "there is no day 2024-02-31."),
    ],
)
def test_a_day_that_is_none_is_refused_in_words(day: str, said: str) -> None:
    refused = CliRunner().invoke(app, ["market", "--on", day], env={"COLUMNS": "200"})
    assert (refused.exit_code, said in refused.stderr) == (2, True)
