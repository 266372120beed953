"""The command line: one command a job; arguments in, errors to exit codes, nothing else."""

import gc
import os
import shutil
import sys
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipeline import __version__
from pipeline.errors import PairbandError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipeline.decisions.subject import Description
    from reports.page import Figure

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded: its matrices are small here
os.environ.setdefault(
    "PYDANTIC_DISABLE_PLUGINS", "__all__"
)  # none is meant for us, and the search takes long

app = typer.Typer(
    name="pairband",
    help="Fair-value bands for vintage pairs, from the sale records that you export yourself.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

MarketOption = Annotated[Path, typer.Option("--market", help="Your market file.", envvar="PAIRBAND_MARKET")]
LedgerOption = Annotated[
    Path, typer.Option("--ledger", help="The ledger: one DuckDB file.", envvar="PAIRBAND_LEDGER")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")]
OnOption = Annotated[
    datetime | None, typer.Option("--on", formats=["%Y-%m-%d"], help="The day of valuation; left out, today.")
]
Word = Annotated[str | None, typer.Option()]
FigureOption = Annotated[
    str | None, typer.Option("--figure", help="Write one figure of the page, by its name, for use elsewhere.")
]
FormatOption = Annotated[
    str | None,
    typer.Option("--format", help="Of that figure: svg, png, pdf, csv or json; else as --to ends, or svg."),
]
ToOption = Annotated[
    Path | None, typer.Option("--to", help="The file for that figure; left out, its name in this folder.")
]

MARKET = Path("market.toml")
LEDGER = Path("pairband.duckdb")


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"pairband {__version__}")
        raise typer.Exit


@app.callback()
def _common(
    debug: Annotated[bool, typer.Option("--debug", help="Show the traceback of an error.")] = False,
    version: Annotated[
        bool, typer.Option("--version", help="Print the version.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    """Fair-value bands for vintage pairs, from the sale records that you export yourself."""


@app.command()
def init(market: MarketOption = MARKET) -> None:
    """Write a commented starter of the market file; it never overwrites one.

    Example: pairband init
    """
    from pipeline.jobs.starter import write_starter

    typer.echo(f"wrote {write_starter(market)}: put your own names in it, then run `pairband check`.")


@app.command()
def check(market: MarketOption = MARKET) -> None:
    """Read the market file and say what it holds, or what is wrong with it.

    Example: pairband check
    """
    from pipeline.config import load_market
    from pipeline.terminal.market import show_market

    show_market(load_market(market), market)


@app.command()
def columns(as_json: JsonOption = False) -> None:
    """List the columns of a sale record: type, unit, meaning, allowed values.

    Example: pairband columns
    """
    from pipeline.schema import describe_columns
    from pipeline.terminal.console import show_json
    from pipeline.terminal.market import show_columns

    show_json(describe_columns()) if as_json else show_columns(describe_columns())


@app.command(name="map")
def propose(
    file: Annotated[Path, typer.Argument(help="An export for which there is no map yet.")],
    market: MarketOption = MARKET,
) -> None:
    """Propose an export map for a file, as TOML for you to edit. Does not write to the ledger.

    Example: pairband map new_venue.csv >> market.toml
    """
    from pipeline.config import load_market
    from pipeline.ingest.proposal import propose_map

    typer.echo(propose_map(file, load_market(market)).to_toml())


@app.command()
def ingest(
    files: Annotated[list[Path], typer.Argument(help="Exported files, in any order.")],
    map_name: Annotated[
        str | None, typer.Option("--map", help="The export map to use for all of them.")
    ] = None,
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
    as_json: JsonOption = False,
) -> None:
    """Read exports into the ledger. Reading a file again changes nothing.

    Example: pairband ingest exports/*.csv
    """
    from pipeline.jobs.ingest import ingest_exports
    from pipeline.terminal.console import show_json
    from pipeline.terminal.ingest import show_ingest
    from pipeline.terminal.progress import progress

    with progress("reading exports", quiet=as_json) as on_progress:
        run = ingest_exports(
            ledger,
            market,
            files,
            map_name=map_name,
            loaded_at=datetime.now(UTC),
            on_progress=on_progress,
        )
    show_json(run) if as_json else show_ingest(run)


@app.command()
def quarantine(ledger: LedgerOption = LEDGER) -> None:
    """Print the quarantined rows as CSV that is safe to open in a spreadsheet.

    Example: pairband quarantine > quarantine.csv
    """
    from pipeline.jobs.ingest import quarantined

    typer.echo(quarantined(ledger), nl=False)


@app.command()
def review(ledger: LedgerOption = LEDGER, as_json: JsonOption = False) -> None:
    """List what awaits your ruling: sales that may be one, sales held out of the fit, and your rulings so far.

    Example: pairband review
    """
    from pipeline.jobs.review import list_review
    from pipeline.terminal.console import show_json
    from pipeline.terminal.review import show_review

    listed = list_review(ledger)
    show_json(listed) if as_json else show_review(listed)


@app.command()
def rule(
    kind: Annotated[
        str, typer.Argument(help='"same sale", "different sales", "same pair", "era", "accept", "hold".')
    ],
    record: Annotated[str, typer.Argument(help="The record's id, as `pairband review` lists it.")],
    other: Annotated[str | None, typer.Argument(help="The other record, for a ruling on two.")] = None,
    era: Annotated[str | None, typer.Option(help="The era, for a ruling of that kind.")] = None,
    note: Annotated[str, typer.Option(help="Why, for yourself.")] = "",
    withdraw: Annotated[bool, typer.Option("--withdraw", help="Take the same ruling back.")] = False,
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
) -> None:
    """Keep a ruling of yours; it survives reading the exports again. Changes the ledger.

    Example: pairband rule "same sale" 6f1c2a 91b04d --note "two exports of one season"
    """
    from pipeline.jobs.review import keep_ruling

    typer.echo(
        keep_ruling(
            ledger,
            market,
            kind,
            record,
            other,
            era=era,
            note=note,
            withdraw=withdraw,
            ruled_at=datetime.now(UTC),
        )
    )


@app.command()
def fit(
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
    as_json: JsonOption = False,
) -> None:
    """Fit the market to the sales in the ledger, and keep the fit there.

    Example: pairband fit
    """
    from pipeline.jobs.fit import fit_ledger
    from pipeline.terminal.console import show_json
    from pipeline.terminal.fit import show_fit
    from pipeline.terminal.progress import progress

    with progress("fitting the market", quiet=as_json) as on_progress:
        summary = fit_ledger(ledger, market, fitted_at=datetime.now(UTC), on_progress=on_progress)
    show_json(summary) if as_json else show_fit(summary)


@app.command()
def appraise(
    silhouette: Word = None,
    colourway: Word = None,
    era: Word = None,
    size: Annotated[str | None, typer.Option(help="As on the label: 'UK 9', 'EU 43', '275 mm'.")] = None,
    grade: Annotated[str | None, typer.Option(help="1 to 10 by half, or a trade word.")] = None,
    box: Annotated[str | None, typer.Option(help="original, replacement, none or unknown.")] = None,
    tags: Annotated[str | None, typer.Option(help="attached, loose, none or unknown.")] = None,
    overlay: Annotated[str | None, typer.Option(help="leather, vinyl, textile or unknown.")] = None,
    parts: Annotated[str | None, typer.Option(help="Comma-separated, or 'none'.")] = None,
    defects: Annotated[str | None, typer.Option(help="Comma-separated, or 'none'.")] = None,
    treatments: Annotated[str | None, typer.Option(help="Comma-separated, or 'none'.")] = None,
    venue: Annotated[str | None, typer.Option(help="Where it would be sold; left out, anywhere.")] = None,
    label: Annotated[str, typer.Option(help="What you call this pair.")] = "",
    file: Annotated[
        Path | None, typer.Option("--file", help='A file of pairs (holds = "stock" or "lots").')
    ] = None,
    row: Annotated[int | None, typer.Option(min=1, help="Which row of the file; left out, all.")] = None,
    on: OnOption = None,
    page: Annotated[Path | None, typer.Option(help="Write the report page there (HTML).")] = None,
    as_written: Annotated[bool, typer.Option(help="Take the silhouette's name as it is.")] = False,
    era_odds: Annotated[
        str | None,
        typer.Option(help="An era in doubt: 'first=0.7,second=0.3', or 'sales' for how they went."),
    ] = None,
    at_price: Annotated[
        float | None, typer.Option(min=0, help="With --era-odds: the price at which you may take the pair.")
    ] = None,
    figure: FigureOption = None,
    figure_format: FormatOption = None,
    to: ToOption = None,
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
    as_json: JsonOption = False,
) -> None:
    """Value a pair: median and bands, what each attribute does, the nearest sales. Writes no record.

    In a terminal, what is left out is asked for.

    Example: pairband appraise --silhouette "Gannet Hi" --era first --size "UK 9" --grade 8 --page pair.html
    """
    if file is None:
        _answer_soon()
    from pipeline.decisions.subject import Description
    from pipeline.jobs.appraise import appraise_descriptions, appraise_file
    from pipeline.terminal.appraisal import show_appraisal
    from pipeline.terminal.console import show_json
    from pipeline.terminal.questions import ask_for_the_rest

    as_of = on.date() if on else date.today()
    if era_odds is not None and era is not None:
        raise typer.BadParameter("give the era or its odds, not both", param_hint="--era-odds")
    if at_price is not None and era_odds is None:
        raise typer.BadParameter("--at-price needs --era-odds", param_hint="--at-price")
    if file is not None:
        if silhouette is not None:
            raise typer.BadParameter("give a file or a silhouette, not both", param_hint="--file")
        if era_odds is not None:
            if row is None:
                raise typer.BadParameter("--era-odds is of one pair: name its --row", param_hint="--era-odds")
            wanted = (page, figure, figure_format, to)
            _appraise_in_doubt((file, row), era_odds, at_price, as_of, wanted, False, market, ledger, as_json)
            return
        appraisals = appraise_file(ledger, market, file, row=row, as_of=as_of)
    else:
        if row is not None:
            raise typer.BadParameter("--row needs --file", param_hint="--row")
        words = {
            "silhouette": silhouette,
            "colourway": colourway,
            "era": era,
            "size": size,
            "grade": grade,
            "box": box,
            "tags": tags,
            "overlay": overlay,
            "parts": parts,
            "defects": defects,
            "treatments": treatments,
            "venue": venue,
        }
        if not as_json and era_odds is None and sys.stdin.isatty():
            words = ask_for_the_rest(words, market)
        if not words["silhouette"]:
            raise typer.BadParameter("a pair needs a silhouette", param_hint="--silhouette")
        description = Description(**words, label=label)  # type: ignore[arg-type]
        if era_odds is not None:
            wanted = (page, figure, figure_format, to)
            _appraise_in_doubt(
                description, era_odds, at_price, as_of, wanted, as_written, market, ledger, as_json
            )
            return
        appraisals = appraise_descriptions(ledger, market, (description,), as_of=as_of, as_written=as_written)
    if as_json:
        show_json(appraisals[0] if file is None or row is not None else list(appraisals))
    else:
        for appraisal in appraisals:
            show_appraisal(appraisal)
    if page is not None:
        from pipeline.jobs.pages import write_pages

        for path in write_pages(appraisals, page, market):
            typer.echo(f"wrote {path}", err=as_json)
    if _one_figure(figure, figure_format, to, pairs=len(appraisals)):
        from reports.appraisal import appraisal_figures

        _write_figure(appraisal_figures(appraisals[0]), figure, figure_format, to, as_json)


@app.command()
def consign(
    silhouette: Word = None,
    colourway: Word = None,
    era: Word = None,
    size: Annotated[str | None, typer.Option(help="As on the label: 'UK 9', 'EU 43', '275 mm'.")] = None,
    grade: Annotated[str | None, typer.Option(help="1 to 10 by half, or a trade word.")] = None,
    box: Annotated[str | None, typer.Option(help="original, replacement, none or unknown.")] = None,
    tags: Annotated[str | None, typer.Option(help="attached, loose, none or unknown.")] = None,
    overlay: Annotated[str | None, typer.Option(help="leather, vinyl, textile or unknown.")] = None,
    parts: Annotated[str | None, typer.Option(help="Comma-separated, or 'none'.")] = None,
    defects: Annotated[str | None, typer.Option(help="Comma-separated, or 'none'.")] = None,
    treatments: Annotated[str | None, typer.Option(help="Comma-separated, or 'none'.")] = None,
    label: Annotated[str, typer.Option(help="What you call this pair.")] = "",
    file: Annotated[
        Path | None, typer.Option("--file", help='A file of pairs (holds = "stock" or "lots").')
    ] = None,
    row: Annotated[int | None, typer.Option(min=1, help="Which row of the file; left out, all.")] = None,
    patience: Annotated[
        int | None,
        typer.Option(min=1, max=730, help="Days to wait at a fixed price; else the market file's."),
    ] = None,
    on: OnOption = None,
    page: Annotated[Path | None, typer.Option(help="Write the consignor's sheet there (HTML).")] = None,
    as_written: Annotated[bool, typer.Option(help="Take the silhouette's name as it is.")] = False,
    figure: FigureOption = None,
    figure_format: FormatOption = None,
    to: ToOption = None,
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
    as_json: JsonOption = False,
) -> None:
    """Say what each venue should bring for a pair, to consignor and house, and what to ask. Writes no record.

    The page is a sheet for the consignor, without what the house keeps.

    Example: pairband consign --silhouette "Gannet Hi" --era first --size "UK 9" --grade 8 --page sheet.html
    """
    from pipeline.decisions.subject import Description
    from pipeline.jobs.consign import consign_descriptions, consign_file, write_sheets
    from pipeline.terminal.consignment import show_consignment
    from pipeline.terminal.console import show_json

    as_of = on.date() if on else date.today()
    if file is not None:
        if silhouette is not None:
            raise typer.BadParameter("give a file or a silhouette, not both", param_hint="--file")
        priced = consign_file(ledger, market, file, row=row, as_of=as_of, patience_days=patience)
    else:
        if row is not None:
            raise typer.BadParameter("--row needs --file", param_hint="--row")
        if not silhouette:
            raise typer.BadParameter("a pair needs a silhouette", param_hint="--silhouette")
        description = Description(
            silhouette=silhouette,
            colourway=colourway,
            era=era,
            size=size,
            grade=grade,
            box=box,
            tags=tags,
            overlay=overlay,
            parts=parts,
            defects=defects,
            treatments=treatments,
            label=label,
        )
        priced = consign_descriptions(
            ledger, market, (description,), as_of=as_of, patience_days=patience, as_written=as_written
        )
    if as_json:
        show_json(priced[0] if file is None or row is not None else list(priced))
    else:
        for consignment in priced:
            show_consignment(consignment)
    if page is not None:
        for path in write_sheets(priced, page, market):
            typer.echo(f"wrote {path}", err=as_json)
    if _one_figure(figure, figure_format, to, pairs=len(priced)):
        from reports.consignment import consignment_figures

        _write_figure(consignment_figures(priced[0]), figure, figure_format, to, as_json)


@app.command()
def lots(
    file: Annotated[
        Path | None, typer.Argument(help='A file of upcoming lots (a map with holds = "lots").')
    ] = None,
    backtest: Annotated[
        bool, typer.Option("--backtest", help="Bid on past lots instead, with what was known on each day.")
    ] = False,
    margin: Annotated[
        float | None,
        typer.Option(min=0, max=0.95, help="Share of the resale to be left; else the market file's."),
    ] = None,
    confidence: Annotated[
        float | None, typer.Option(min=0.5, max=0.99, help="The chance with which it must be; likewise.")
    ] = None,
    sells_at: Annotated[str | None, typer.Option(help="The venue of the resale; likewise.")] = None,
    on: OnOption = None,
    page: Annotated[
        Path | None, typer.Option(help="Write the page there (HTML); it sorts and filters.")
    ] = None,
    csv: Annotated[Path | None, typer.Option(help="Write all lots there (CSV).")] = None,
    excel: Annotated[Path | None, typer.Option(help="Write all lots there (Excel).")] = None,
    figure: FigureOption = None,
    figure_format: FormatOption = None,
    to: ToOption = None,
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
    as_json: JsonOption = False,
) -> None:
    """Say how far to bid on upcoming lots, and rank them by what they should gain. Writes no record.

    Example: pairband lots upcoming_lots.csv --page lots.html --excel lots.xlsx
    """
    from pipeline.jobs.lots import value_lot_file, write_lot_files
    from pipeline.terminal.console import show_json
    from pipeline.terminal.lots import lots_document, show_lots

    if backtest:
        from pipeline.jobs.backtest import backtest_ledger, write_backtest_files
        from pipeline.terminal.backtest import backtest_document, show_backtest
        from pipeline.terminal.progress import progress

        if file is not None:
            raise typer.BadParameter("--backtest takes past lots from the ledger, no file", param_hint="FILE")
        if _one_figure(figure, figure_format, to):
            raise typer.BadParameter("the page of a back-test has no figure", param_hint="--figure")
        with progress("bidding on past lots", quiet=as_json) as on_progress:
            tested = backtest_ledger(
                ledger,
                market,
                margin=margin,
                confidence=confidence,
                sells_at=sells_at,
                on_progress=on_progress,
            )
        show_json(backtest_document(tested)) if as_json else show_backtest(tested)
        for path in write_backtest_files(tested, market, page=page, csv=csv, excel=excel):
            typer.echo(f"wrote {path}", err=as_json)
        return
    as_of = on.date() if on else date.today()
    if file is None:
        raise typer.BadParameter("name a file of lots, or --backtest", param_hint="FILE")
    listed = value_lot_file(
        ledger, market, file, as_of=as_of, margin=margin, confidence=confidence, sells_at=sells_at
    )
    show_json(lots_document(listed)) if as_json else show_lots(listed)
    for path in write_lot_files(listed, market, page=page, csv=csv, excel=excel):
        typer.echo(f"wrote {path}", err=as_json)
    if _one_figure(figure, figure_format, to):
        from reports.lots import lots_figures

        _write_figure(lots_figures(listed), figure, figure_format, to, as_json)


@app.command()
def restore(
    file: Annotated[
        Path | None,
        typer.Argument(help='Your stock list (a map with holds = "stock"); left out, effects only.'),
    ] = None,
    hours: Annotated[
        float | None, typer.Option(min=0, help="Hours there are; left out, the market file's.")
    ] = None,
    money: Annotated[float | None, typer.Option(min=0, help="Money for materials; likewise.")] = None,
    venue: Annotated[
        str | None, typer.Option(help="Where they would be sold; left out, the map's venue.")
    ] = None,
    on: OnOption = None,
    page: Annotated[Path | None, typer.Option(help="Write the report page there (HTML).")] = None,
    csv: Annotated[Path | None, typer.Option(help="Write every piece of work there (CSV).")] = None,
    figure: FigureOption = None,
    figure_format: FormatOption = None,
    to: ToOption = None,
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
    as_json: JsonOption = False,
) -> None:
    """Say what each treatment does to a price in total, and which pairs of the stock to restore next. Writes no record.

    Example: pairband restore stock.csv --hours 20 --money 150 --page restore.html
    """
    from pipeline.jobs.restore import restore_stock, write_restoration
    from pipeline.terminal.console import show_json
    from pipeline.terminal.restoration import restoration_document, show_restoration

    report = restore_stock(
        ledger, market, file, as_of=on.date() if on else date.today(), venue=venue, hours=hours, money=money
    )
    show_json(restoration_document(report)) if as_json else show_restoration(report)
    for path in write_restoration(report, market, page=page, csv=csv):
        typer.echo(f"wrote {path}", err=as_json)
    if _one_figure(figure, figure_format, to):
        from reports.restoration import restoration_figures

        _write_figure(restoration_figures(report), figure, figure_format, to, as_json)


@app.command(name="market")
def view_market(
    on: OnOption = None,
    page: Annotated[Path | None, typer.Option(help="Write the report page there (HTML).")] = None,
    figure: FigureOption = None,
    figure_format: FormatOption = None,
    to: ToOption = None,
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
    as_json: JsonOption = False,
) -> None:
    """Show what the market did, how busy the venues were, and what each attribute is worth. Writes no record.

    Example: pairband market --page market.html
    """
    from pipeline.jobs.market import view_ledger, write_market_page
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress
    from pipeline.terminal.view import show_view

    with progress("viewing the market", quiet=as_json):
        view = view_ledger(ledger, market, as_of=on.date() if on else date.today())
    show_json(view) if as_json else show_view(view)
    if page is not None:
        typer.echo(f"wrote {write_market_page(view, page, market)}", err=as_json)
    if _one_figure(figure, figure_format, to):
        from reports.market import market_figures

        _write_figure(market_figures(view), figure, figure_format, to, as_json)


@app.command()
def audit(
    on: OnOption = None,
    page: Annotated[Path | None, typer.Option(help="Write the report page there (HTML).")] = None,
    figure: FigureOption = None,
    figure_format: FormatOption = None,
    to: ToOption = None,
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
    as_json: JsonOption = False,
) -> None:
    """Test whether values and bands kept their word on later sales; exit code 3 where a band did not. Writes no record.

    Example: pairband audit --page audit.html
    """
    from pipeline.jobs.audit import audit_ledger, write_audit_page
    from pipeline.terminal.audit import show_audit
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress

    with progress("auditing", quiet=as_json) as on_progress:
        found = audit_ledger(
            ledger,
            market,
            as_of=on.date() if on else date.today(),
            on_progress=lambda done, total: on_progress("pricing later sales", done, total),
        )
    show_json(found) if as_json else show_audit(found)
    if page is not None:
        typer.echo(f"wrote {write_audit_page(found, page, market)}", err=as_json)
    if _one_figure(figure, figure_format, to):
        from reports.audit import audit_figures

        _write_figure(audit_figures(found), figure, figure_format, to, as_json)
    if found.verdict.exit_code:
        raise typer.Exit(found.verdict.exit_code)


@app.command()
def pricing(
    page: Annotated[Path, typer.Option(help="Write the page there (HTML).")] = Path("pricing.html"),
    on: OnOption = None,
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
) -> None:
    """Write one page in which any pair can be valued, with no network and no pairband at hand. Writes no record.

    Example: pairband pricing --page pricing.html
    """
    from pipeline.jobs.pricing import write_pricing_page

    written = write_pricing_page(ledger, market, page, as_of=on.date() if on else date.today())
    typer.echo(f"wrote {written}; open it in a browser (no network needed).")


@app.command()
def report(
    directory: Annotated[Path, typer.Argument(help="The folder for the pages.")] = Path("reports"),
    stock: Annotated[
        Path | None, typer.Option(help='Your stock list (a map with holds = "stock"): a page for each pair.')
    ] = None,
    lots_file: Annotated[
        Path | None, typer.Option("--lots", help='A file of upcoming lots (a map with holds = "lots").')
    ] = None,
    on: OnOption = None,
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
    as_json: JsonOption = False,
) -> None:
    """Build every report in one folder, tied together by an index page. Writes no record.

    Example: pairband report reports --stock stock.csv --lots upcoming_lots.csv
    """
    from pipeline.jobs.report import build_reports
    from pipeline.terminal.console import show_json
    from pipeline.terminal.progress import progress

    with progress("building", quiet=as_json) as on_progress:
        built = build_reports(
            ledger,
            market,
            directory,
            as_of=on.date() if on else date.today(),
            stock=stock,
            lots=lots_file,
            on_progress=on_progress,
        )
    if as_json:
        show_json(built)
    else:
        typer.echo(
            f"wrote {built.index} and {len(built.pages)} pages; open it in a browser (no network needed)."
        )
        for line in built.skipped:
            typer.echo(f"left out: {line}.")


@app.command()
def demo(directory: Annotated[Path, typer.Argument(help="A folder for it.")] = Path("demo")) -> None:
    """Write the invented scenario, read it, fit it, value three pairs and build their pages.

    Example: pairband demo
    """
    from pipeline.jobs.demo import run_demo
    from pipeline.terminal.demo import show_demo
    from pipeline.terminal.progress import progress

    with progress("building the demo") as on_progress:
        outcome = run_demo(directory, now=datetime.now(UTC), on_progress=on_progress)
    show_demo(outcome, _own_command(directory))


@app.command()
def doctor(market: MarketOption = MARKET, ledger: LedgerOption = LEDGER, as_json: JsonOption = False) -> None:
    """Say whether the ledger is sound, what is stale, and what to do; exit code 3 where there is something to mend.

    Example: pairband doctor
    """
    from pipeline.jobs.doctor import examine
    from pipeline.terminal.console import show_json
    from pipeline.terminal.doctor import show_health

    health = examine(ledger, market, now=datetime.now(UTC))
    show_json(health) if as_json else show_health(health)
    if health.exit_code:
        raise typer.Exit(health.exit_code)


@app.command()
def backup(
    file: Annotated[
        Path | None,
        typer.Argument(help="Where to: a new file, or a folder; left out, `copies` beside the ledger."),
    ] = None,
    market: MarketOption = MARKET,
    ledger: LedgerOption = LEDGER,
    as_json: JsonOption = False,
) -> None:
    """Copy the ledger, and prove that the copy holds what the ledger does. Writes over nothing.

    The market file is copied beside it. Exit code 3 where the ledger itself is not sound.

    Example: pairband backup /media/stick
    """
    from pipeline.jobs.copies import back_up
    from pipeline.terminal.console import show_json
    from pipeline.terminal.copies import show_backup

    made = back_up(ledger, market, file, made_at=datetime.now(UTC))
    show_json(made) if as_json else show_backup(made)
    if made.findings:
        raise typer.Exit(3)


@app.command(name="recover")
def bring_back(
    file: Annotated[Path, typer.Argument(help="A copy that `pairband backup` made.")],
    ledger: LedgerOption = LEDGER,
    as_json: JsonOption = False,
) -> None:
    """Bring a copy of the ledger back, once it has been proved. The ledger that it replaces is kept beside it.

    Example: pairband recover copies/pairband-20261103-180000.duckdb
    """
    from pipeline.jobs.copies import recover
    from pipeline.terminal.console import show_json
    from pipeline.terminal.copies import show_recovery

    recovered = recover(file, ledger, now=datetime.now(UTC))
    show_json(recovered) if as_json else show_recovery(recovered)


def _answer_soon() -> None:
    """Make ready for one short answer: threads and the search for garbage cost more than they save."""
    os.environ.setdefault("POLARS_MAX_THREADS", "1")  # before polars is loaded
    gc.disable()


def _appraise_in_doubt(
    described: "Description | tuple[Path, int]",
    odds: str,
    at_price: float | None,
    as_of: date,
    wanted: tuple[Path | None, str | None, str | None, Path | None],
    as_written: bool,
    market: Path,
    ledger: Path,
    as_json: bool,
) -> None:
    """Do `appraise --era-odds`: print, and write the page and the figure where they are asked for."""
    from pipeline.jobs.era_odds import appraise_in_doubt, write_era_odds
    from pipeline.terminal.console import show_json
    from pipeline.terminal.era_odds import show_era_odds

    doubt = appraise_in_doubt(
        ledger, market, described, odds, as_of=as_of, at_price=at_price, as_written=as_written
    )
    show_json(doubt) if as_json else show_era_odds(doubt)
    page, figure, figure_format, to = wanted
    if page is not None:
        typer.echo(f"wrote {write_era_odds(doubt, page, market)}", err=as_json)
    if _one_figure(figure, figure_format, to):
        from reports.era_odds import era_odds_figures

        _write_figure(era_odds_figures(doubt), figure, figure_format, to, as_json)


def _one_figure(figure: str | None, figure_format: str | None, to: Path | None, *, pairs: int = 1) -> bool:
    """Tell whether a figure is asked for; it is of one pair, and its format and file need its name."""
    if figure is None:
        if figure_format is not None or to is not None:
            raise typer.BadParameter("--format and --to are of one figure: name it", param_hint="--figure")
        return False
    if pairs != 1:
        raise typer.BadParameter("a figure is of one pair: name its --row", param_hint="--figure")
    return True


def _write_figure(
    drawn: "Sequence[Figure]", figure: str | None, figure_format: str | None, to: Path | None, as_json: bool
) -> None:
    from reports.figure_file import write_figure

    typer.echo(f"wrote {write_figure(drawn, figure or '', figure_format, to)}", err=as_json)


def _own_command(directory: Path) -> str:
    """Return how this programme is called from a folder: by its name where the shell finds it."""
    if shutil.which("pairband"):
        return "pairband"
    return os.path.relpath(sys.argv[0], directory)


def main() -> None:
    """Run the command line: exit code 0 done, 1 an error that is told, 2 wrong usage, 3 an audit not passed."""
    try:
        app()
    except PairbandError as exc:
        if "--debug" in sys.argv:
            raise
        sys.stderr.write(f"pairband: {exc}\n")
        sys.exit(1)
    finally:
        gc.freeze()  # the process ends: to look for garbage in all that was loaded takes longer than an answer
