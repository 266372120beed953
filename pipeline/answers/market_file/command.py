"""The market file: write a starter, read it, list the columns that it maps, propose a map."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from pipeline import clock, options
from pipeline.errors import suggest
from pipeline.outputs import show_answer
from pipeline.streams import can_ask, refuse_as_stdout, say, show_document

if TYPE_CHECKING:
    from pipeline.ingest.proposal import Holds


@options.command()
@options.market
def init(market: Path) -> None:
    """Write a commented starter of the market file; it never overwrites one.

    Example: pairband init
    """
    from pipeline.outfile import write_new_file

    starter = (Path(__file__).parents[2] / "starter.toml").read_bytes()
    say(f"wrote {write_new_file(starter, market)}: put your own names in it, then run `pairband check`.")


@options.command()
@options.market
@options.ledger
@options.details
def check(market: Path, ledger: Path) -> None:
    """Read the market file and say what it holds, or what is wrong with it.

    Where there is a ledger, venues without a recent sale are named as well.

    Example: pairband check
    """
    from pipeline.answers.market_file.remarks import market_remarks
    from pipeline.answers.market_file.tables import market_file_sheet
    from pipeline.config import load_market

    read = load_market(market)
    remarks = market_remarks(read, ledger, as_of=clock.today())
    show_answer(read, lambda found: market_file_sheet(found, market, remarks), as_json=False, limits=False)


@options.command()
@click.argument("name", type=options.WORDS, required=False)
@options.as_json
@options.details
def columns(name: str | None, as_json: bool) -> None:
    """List the columns of a sale record: type, unit, meaning, allowed values.

    NAME is one of them, of which all is shown.

    Example: pairband columns grade
    """
    from pipeline.answers.market_file.tables import columns_sheet
    from pipeline.schema import describe_columns

    listed = [one for one in describe_columns() if name in (None, one["column"])]
    if not listed:
        known = suggest(name or "", (one["column"] for one in describe_columns()))
        raise click.BadParameter(f"a sale record has no column {name!r}; {known}", param_hint="NAME")
    show_answer(listed, columns_sheet, as_json=as_json, limits=False, most_rows=len(listed))


@options.command()
@click.argument("language", type=options.WORDS)
@options.market
def phrases(language: str, market: Path) -> None:
    """Print the phrases of sheets and tickets in a language, to translate or change in your market file.

    LANGUAGE is a code such as fr, nl or pt-BR. Above each phrase stands the English; what is in braces must stay.

    Example: pairband phrases fr > phrases.toml
    """
    from pipeline.config import load_market
    from pipeline.phrases.languages import phrases_toml

    refuse_as_stdout(market, "your market file")
    show_document(phrases_toml(language, load_market(market)))


@options.command("map")
@click.argument("file", type=options.FILE)
@click.option("--print", "printed", is_flag=True, help="Print the map instead of asking, for you to paste.")
@click.option(
    "--holds",
    type=click.Choice(["sales", "stock", "lots"]),
    help="What the file holds; left out, past sales, or your stock where its headings say so.",
)
@options.market
def propose(file: Path, printed: bool, holds: "Holds | None", market: Path) -> None:
    """Propose an export map for a file, ask what it does not tell, and write the map into your market file.

    In a terminal it shows the first rows as it would read them, and you can change any line before it writes. The
    earlier text of the market file stays beside it. Elsewhere, or with --print, the map is printed with its open
    questions, for you to answer and paste. It writes no record.

    Example: pairband map exports/holm_2023_2026.csv --print
    """
    from pipeline.config import load_market
    from pipeline.ingest.proposal import propose_likely_map

    if not printed and can_ask() and sys.stdout.isatty():
        from pipeline.answers.market_file.conversation import map_in_terminal

        map_in_terminal(file, market, holds)
        return
    refuse_as_stdout(market, "your market file")
    _, proposed = propose_likely_map(file, load_market(market), holds)
    show_document(proposed.to_toml() + "\n")
