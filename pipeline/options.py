"""The options that several commands share."""

import os
import re
import unicodedata
from collections.abc import Callable
from datetime import date, datetime
from functools import wraps
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline import clock
from pipeline.outfile import guarding, refuse_place
from pipeline.outputs import DETAILS, FigureFile, Outputs

if TYPE_CHECKING:
    from pipeline.answers.records.run import Wanted
    from pipeline.market.subject import Description
    from pipeline.workspace import Workspace

Function = Callable[..., Any]
LONGEST_TEXT = 500
FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2100, 12, 31)
"""The days of valuation: the years that an era may have."""


class File(click.Path):
    """The name of a file or folder, there or not yet, that can be looked at and written down."""

    def __init__(self) -> None:
        super().__init__(path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Path:
        path = Path(os.fsdecode(super().convert(value, param, ctx)))
        try:
            str(path).encode()
            path.lstat()
        except (FileNotFoundError, NotADirectoryError):
            pass
        except UnicodeEncodeError:
            self.fail(f"the name {_shown(str(path))} is not UTF-8; rename the file.", param, ctx)
        except (OSError, ValueError) as exc:
            reason = exc.strerror if isinstance(exc, OSError) else exc
            self.fail(f"{_shown(str(path))} cannot be looked at: {reason}.", param, ctx)
        return path


class Words(click.ParamType[str]):
    """A text of one line that can be shown and kept: UTF-8, without control characters, not without end."""

    name = "text"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        text = str(value)
        if len(text) > LONGEST_TEXT:
            self.fail(f"{len(text):,} characters are too many; {LONGEST_TEXT} are the most.", param, ctx)
        if any(unicodedata.category(sign) in ("Cc", "Cs") for sign in text):
            self.fail(f"{_shown(text)} is not plain text of one line in UTF-8.", param, ctx)
        return text


class Day(click.ParamType[datetime]):
    """A day, as year-month-day."""

    name = "day"

    def get_metavar(self, param: click.Parameter, ctx: click.Context) -> str:
        """Return how a day is written, for the help."""
        return "YEAR-MONTH-DAY"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> datetime:
        text = str(value).strip()
        if re.fullmatch(r"\d{4}-\d{1,2}-\d{1,2}", text) is None:
            self.fail(f"write {_shown(text)} as year-month-day, such as 2024-05-03.", param, ctx)
        try:
            return datetime.strptime(text, "%Y-%m-%d")
        except ValueError:
            self.fail(f"there is no day {text}.", param, ctx)


def _shown(text: str) -> str:
    """Return a text as a message can show it, whatever it holds."""
    return ascii(text) if len(text) <= 80 else f"{text[:80]!a}…"


FILE = File()
WORDS = Words()
MOST_ROWS = 1_000_000_000
MOST_MONEY = 1_000_000_000
MOST_HOURS = 10_000


class _Output(File):
    """A file or folder that is written; by this type a command knows what to guard the owner's files from."""


OUTPUT = _Output()
OUTPUT_FOLDER = _Output()


VALUES = {
    "path": "FILE",
    "float": "NUMBER",
    "float range": "NUMBER",
    "integer": "NUMBER",
    "integer range": "NUMBER",
}
"""What help calls the value of an option, by the name of its type."""


class Command(click.Command):
    """A command that never writes over the owner's files; where it writes any, it takes --force."""

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        for parameter in self.params:
            if isinstance(parameter, click.Option) and not parameter.is_flag:
                parameter.metavar = parameter.metavar or VALUES.get(parameter.type.name)
        if any(isinstance(parameter.type, _Output) for parameter in self.params):
            self.params.append(
                click.Option(
                    ["--force"],
                    is_flag=True,
                    expose_value=False,
                    callback=_note_force,
                    help="Replace a file that pairband did not write.",
                )
            )

    def invoke(self, ctx: click.Context) -> Any:
        given = [(parameter, path) for parameter in self.params for path in _paths_given(ctx, parameter)]
        files = [
            path
            for parameter, path in given
            if isinstance(parameter.type, _Output) and parameter.type is not OUTPUT_FOLDER
        ]
        kept = [
            (path, "your market file" if parameter.name == "market" else "read by this command")
            for parameter, path in given
            if not isinstance(parameter.type, _Output)
        ]
        if "ledger" in ctx.params and any(isinstance(parameter.type, _Output) for parameter, _ in given):
            from pipeline.ledger.copy_log import files_of

            kept = [*files_of(ctx.params["ledger"]), *kept]
        with guarding(kept, force=bool(ctx.meta.get(_FORCE))):
            for place, path in enumerate(files):
                if path in files[:place]:
                    raise click.UsageError(f"two outputs are to go to {path}; name another file.", ctx=ctx)
                refuse_place(path)
            return super().invoke(ctx)


_FORCE = "pairband.force"


def _note_force(ctx: click.Context, _parameter: click.Parameter, value: bool) -> None:
    ctx.meta[_FORCE] = value


def _paths_given(ctx: click.Context, parameter: click.Parameter) -> list[Path]:
    """Return the paths that one option or argument was given; those of --figure travel together."""
    value = ctx.params.get(parameter.name or "")
    return [path for path in (value if isinstance(value, tuple) else (value,)) if isinstance(path, Path)]


def command(name: str | None = None) -> Callable[[Function], Command]:
    """Return the decorator of a command of pairband."""
    return click.command(name, cls=Command)


market = click.option(
    "--market",
    type=FILE,
    default="market.toml",
    envvar="PAIRBAND_MARKET",
    show_default=True,
    show_envvar=True,
    help="Your market file.",
)
ledger = click.option(
    "--ledger",
    type=FILE,
    default="pairband.duckdb",
    envvar="PAIRBAND_LEDGER",
    show_default=True,
    show_envvar=True,
    help="The ledger: one DuckDB file.",
)


def workspace(function: Function) -> Function:
    """Add --market and --ledger; the command takes them as `workspace`, which is open while it runs."""

    @market
    @ledger
    @wraps(function)
    def with_workspace(*, market: Path, ledger: Path, **others: Any) -> Any:
        from pipeline.workspace import workspace_at

        with workspace_at(ledger, market) as opened:
            return function(workspace=opened, **others)

    return with_workspace


def _note_details(ctx: click.Context, _parameter: click.Parameter, value: bool) -> None:
    ctx.meta[DETAILS] = value


details = click.option(
    "--details",
    is_flag=True,
    expose_value=False,
    callback=_note_details,
    help="Print all there is: every table, row and warning.",
)
keep = click.option(
    "--keep/--no-keep",
    default=None,
    help="Keep what is said, so that `pairband outcomes` can judge it; left out, as the market file says.",
)
as_json = click.option("--json", "as_json", is_flag=True, help="Print JSON instead of a table.")
file_of_pairs = click.option(
    "--file",
    type=FILE,
    help='A file of pairs (holds = "stock" or "lots"); what else you describe goes before what it says.',
)
row = click.option("--row", type=click.IntRange(1, MOST_ROWS), help="Which row of the file; left out, all.")
label = click.option("--label", type=WORDS, default="", help="What you call this pair.")
as_written = click.option("--as-written", is_flag=True, help="Take the silhouette's name as it is.")

odds_in_list = click.option(
    "--era-odds",
    type=click.Choice(["sales", "none"]),
    help="'sales': value pairs whose era nobody states by odds learned from your records; left out, as the market "
    "file says.",
)


def by_odds(era_odds: str | None) -> bool | None:
    """Return whether `odds_in_list` asks for odds; None where the market file is to say it."""
    return None if era_odds is None else era_odds == "sales"


without_sales = click.option(
    "--without-sales",
    is_flag=True,
    help="Leave the past sales and your rule of buying out of the pricing page; it still values.",
)


class Finite(click.FloatRange):
    """A number within bounds, which "nan" and "inf" are not."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        number: float = super().convert(value, param, ctx)
        if not isfinite(number):
            self.fail(f"{value!r} is not a number that can be used.", param, ctx)
        return number


def _day(context: click.Context, parameter: click.Parameter, value: datetime | None) -> date:
    if value is None:
        return clock.today()
    if not FIRST_DAY <= value.date() <= LAST_DAY:
        raise click.BadParameter(f"give a day from {FIRST_DAY} to {LAST_DAY}.", context, parameter)
    return value.date()


on = click.option(
    "--on",
    "as_of",
    type=Day(),
    callback=_day,
    help="The day of valuation, such as 2026-10-01; left out, today.",
)


def _together(*options: Callable[[Function], Function]) -> Callable[[Function], Function]:
    """Return one decorator for several options, shown in this order."""

    def decorate(function: Function) -> Function:
        for option in reversed(options):
            function = option(function)
        return function

    return decorate


pair = _together(
    click.option("--silhouette", type=WORDS, help="The silhouette, as in your market file."),
    click.option("--colourway", type=WORDS, help="The colourway of it."),
    click.option("--era", type=WORDS, help="The era, by its name or a phrase in your market file."),
    click.option(
        "--size", type=WORDS, help="As on the label: 'UK 9', 'EU 43', '275 mm'; '9' is of your usual system."
    ),
    click.option("--grade", type=WORDS, help="1 to 10 by half, or a trade word of your market file."),
    click.option("--box", type=WORDS, help="original, replacement, none or unknown, or your word for it."),
    click.option("--tags", type=WORDS, help="attached, loose, none or unknown, or your word for it."),
    click.option("--overlay", type=WORDS, help="leather, vinyl, textile or unknown, or your word for it."),
    click.option("--parts", type=WORDS, help="Comma-separated, or 'none'."),
    click.option("--defects", type=WORDS, help="Comma-separated, or 'none'."),
    click.option("--treatments", type=WORDS, help="Comma-separated, or 'none'."),
)
"""The words by which a pair is described; a command takes them as `**words`."""


def _price_range(
    context: click.Context, parameter: click.Parameter, value: str | None
) -> tuple[float | None, float | None]:
    """Return the ends of a range such as 100..400, 100.. or ..400; of one number alone, both are that number."""
    if value is None:
        return None, None
    ends = value.split("..") if ".." in value else [value, value]
    try:
        least, most = (float(end) if end.strip() else None for end in ends)
    except ValueError:
        raise click.BadParameter(
            f"{value!r} is no range; give it as 100..400, 100.. or ..400", context, parameter
        ) from None
    if least is not None and most is not None and not least <= most:
        raise click.BadParameter(f"{value!r} ends before it begins", context, parameter)
    return least, most


def _listed_day(context: click.Context, parameter: click.Parameter, value: datetime | None) -> date | None:
    return None if value is None else _day(context, parameter, value)


def _of_days(*names: str, help: str) -> Callable[[Function], Function]:
    return click.option(*names, type=Day(), callback=_listed_day, help=help)


list_day = _of_days(
    "--on",
    "listed_on",
    help="The day that a stock list is of, such as 2026-10-01; left out, that of its reading.",
)
since = _of_days(
    "--since",
    help="The earlier day; left out, the last on which you kept a value, else that of the fit before the latest.",
)

wanted_records = _together(
    click.option("--file", "file_name", type=WORDS, help="Of the file of this name that was read."),
    click.option("--venue", type=WORDS, help="Offered at this venue."),
    click.option("--silhouette", type=WORDS, help="Of this silhouette, by its name or a phrase."),
    click.option("--era", type=WORDS, help="Of this era, by its name or a phrase."),
    click.option("--size", type=WORDS, help="Of this size, to the nearest half: 'UK 9', 'EU 43'."),
    click.option(
        "--price",
        callback=_price_range,
        help="Paid (or asked, if not sold) in your currency: 100..400, 100.. or ..400.",
    ),
    _of_days("--on", "on_day", help="Sold, or else ended, on this day."),
    _of_days("--since", help="Sold, or else ended, on this day or later."),
    _of_days("--until", help="Sold, or else ended, on this day or earlier."),
    click.option(
        "--text",
        "said",
        type=WORDS,
        help="With this in the title or the notes, or as its lot or stock number.",
    ),
    click.option("--not-in-fit", "only_left_out", is_flag=True, help="Not in the fit; the list says why."),
    click.option("--corrected", "only_corrected", is_flag=True, help="Corrected by you."),
)
"""The options that say which records are meant; a command takes them as `**words`, for `read_wanted`."""


def read_wanted(words: dict[str, Any]) -> "Wanted":
    """Return which records the options of `wanted_records` mean; raises UsageError where two say the same."""
    from pipeline.answers.records.run import Wanted

    on_day, (least, most) = words.pop("on_day"), words.pop("price")
    if on_day is not None and (words["since"] or words["until"]):
        raise click.UsageError("--on is one day: leave --since and --until out.")
    days = {} if on_day is None else {"since": on_day, "until": on_day}
    return Wanted(**(words | days), least=least, most=most)


def refuse_two_sources(
    silhouette: str | None, file: Path | None, row: int | None, label: str, *, as_written: bool
) -> None:
    """Raise BadParameter where an option does not go with the file that is named, or with none.

    What else is described of a pair goes before what the file says of it, and the answer says so.
    """
    if file is not None and silhouette is not None:
        raise click.BadParameter("give a file or a silhouette, not both", param_hint="--file")
    if file is not None and as_written:
        raise click.BadParameter(
            "it is of a --silhouette that you name; a file's are taken as its map reads them",
            param_hint="--as-written",
        )
    if file is not None and label and row is None:
        raise click.BadParameter("a label is of one pair: name its --row", param_hint="--label")
    if file is None and row is not None:
        raise click.BadParameter("--row needs --file", param_hint="--row")


def describe(words: dict[str, str | None], label: str, file: Path | None = None) -> "Description":
    """Return what the words of `pair` describe, of a pair that a file names or of one of its own.

    Raises BadParameter where neither names a silhouette.
    """
    from pipeline.market.subject import Description

    if not words["silhouette"] and file is None:
        raise click.BadParameter("a pair needs a silhouette", param_hint="--silhouette")
    return Description(**words, label=label)


def outputs(
    page: str = "Write the report page there (HTML).", *, csv: str = "", excel: str = "", keeps: bool = False
) -> Callable[[Function], Function]:
    """Return the decorator that adds a ledger and every way out of an answer: --page, --figure, --json and more.

    `page`, `csv` and `excel` are the help of those options; without a help there is no such option. `keeps` adds
    --keep. The command takes them as `workspace` (see there) and `outputs`.
    """
    files = {"--page": page, "--csv": csv, "--excel": excel}

    def decorate(function: Function) -> Function:
        @_together(
            *(click.option(name, type=OUTPUT, help=words) for name, words in files.items() if words),
            *((keep,) if keeps else ()),
            click.option(
                "--figure", type=WORDS, help="Write one figure of the page, by its name, for use elsewhere."
            ),
            click.option(
                "--format",
                "figure_format",
                type=WORDS,
                help="Of that figure: svg, png, pdf, csv or json; else as --to ends, or svg.",
            ),
            click.option(
                "--to", type=OUTPUT, help="The file for that figure; left out, its name in this folder."
            ),
            workspace,
            as_json,
            details,
        )
        @wraps(function)
        def with_outputs(
            *,
            workspace: "Workspace",
            as_json: bool,
            page: Path | None = None,
            figure: str | None,
            figure_format: str | None,
            to: Path | None,
            csv: Path | None = None,
            excel: Path | None = None,
            keep: bool | None = None,
            **others: Any,
        ) -> Any:
            if figure is None and (figure_format is not None or to is not None):
                raise click.BadParameter(
                    "--format and --to are of one figure: name it", param_hint="--figure"
                )
            wanted = None if figure is None else FigureFile(figure, figure_format, to)
            ways = Outputs(workspace, as_json, page, wanted, csv, excel, keep)
            return function(workspace=workspace, outputs=ways, **others)

        return with_outputs

    return decorate
