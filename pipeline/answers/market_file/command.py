"""The market file: write a starter, read it, list the columns that it maps, propose a map."""

from pathlib import Path

import click

from pipeline import options
from pipeline.outputs import show_answer
from pipeline.streams import say, show_document


@options.command()
@options.market
def init(market: Path) -> None:
    """Write a commented starter of the market file; it never overwrites one.

    Example: pairband init
    """
    from pipeline.answers.market_file.starter import write_starter

    say(f"wrote {write_starter(market)}: put your own names in it, then run `pairband check`.")


@options.command()
@options.market
def check(market: Path) -> None:
    """Read the market file and say what it holds, or what is wrong with it.

    Example: pairband check
    """
    from pipeline.answers.market_file.tables import market_file_sheet
    from pipeline.config import load_market
    from pipeline.terminal.sheet import show_sheet

    show_sheet(market_file_sheet(load_market(market), market), limits=False)


@options.command()
@options.as_json
def columns(as_json: bool) -> None:
    """List the columns of a sale record: type, unit, meaning, allowed values.

    Example: pairband columns
    """
    from pipeline.answers.market_file.tables import columns_sheet
    from pipeline.schema import describe_columns

    listed = describe_columns()
    show_answer(listed, columns_sheet, as_json=as_json, limits=False, most_rows=len(listed))


@options.command("map")
@click.argument("file", type=options.FILE)
@options.market
def propose(file: Path, market: Path) -> None:
    """Propose an export map for a file that has none yet, as TOML for you to edit. Writes no record.

    Answer what it asks, then paste the result into your market file: a map with an open question is refused there.

    Example: pairband map new_venue.csv > new_map.toml
    """
    from pipeline.config import load_market
    from pipeline.ingest.proposal import propose_map

    show_document(propose_map(file, load_market(market)).to_toml() + "\n")
