"""The demo: the invented scenario, from exports to pages."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.run import appraise_descriptions
from pipeline.answers.fit.run import FitSummary, fit_ledger
from pipeline.answers.ingest.run import ingest_exports
from pipeline.answers.pricing.run import write_pricing_page
from pipeline.clock import day_of
from pipeline.errors import PairbandError
from pipeline.ingest.run import IngestRun
from pipeline.market.subject import Description
from pipeline.outfile import refuse_place, write_file
from pipeline.shipped import shipped
from pipeline.workspace import DESK_FOLDER, Workspace
from reports.appraisal.page import appraisal_page
from reports.links import INDEX as ALL_PAGES
from reports.links import link_to, links_of
from reports.page import write_page
from reports.report.index import INDEX_PAGE, PRICING_SUMMARY, Entry, appraisal_entry, write_index

VALUED_ON = date(2026, 10, 1)
"""The day after the last day of the demo's exports."""

MARK = ".pairband-demo"
"""The file by which a folder is known to be the demo's own, so that it may be written again."""

STOCK_LISTS = {date(2026, 7, 1): "lists/stock_2026_07.csv", VALUED_ON: "exports/stock.csv"}
"""The demo's stock lists by the days that they are of."""

FOLDERS = ("exports", "lists")
"""The folders of the scenario."""

PAIRS: dict[str, Description] = {
    "common": Description(
        silhouette="Gannet Hi",
        colourway="Buoy Red",
        era="first",
        size="UK 9",
        grade="8",
        box="original",
        tags="attached",
        defects="none",
        treatments="deep clean",
        venue="Holm Sound Auctions",
        label="A common pair",
    ),
    "rare": Description(
        silhouette="Razorbill",
        colourway="Limewash",
        era="second",
        size="EU 44",
        grade="6.5",
        box="none",
        defects="yellowing",
        label="A rare pair",
    ),
    "outside": Description(
        silhouette="Great Auk Hi",
        era="first",
        size="UK 8",
        grade="7",
        label="A pair outside the records",
    ),
}


@dataclass(frozen=True)
class Demo:
    """What the demo made and where."""

    directory: Path
    ingested: IngestRun
    fitted: FitSummary
    appraisals: tuple[Appraisal, ...]
    pages: tuple[Path, ...]
    index: Path


def run_demo(directory: Path, *, now: datetime, on_progress: Callable[[str, int, int], None]) -> Demo:
    """Write the scenario to a folder, read it, fit it, value three pairs and build their pages.

    The folder may be missing, empty, or an earlier demo's; anything else is left alone, and so is a file of the
    demo that was changed since (PairbandError).
    """
    exports = _write_scenario(directory)
    market, ledger = directory / "market.toml", directory / "pairband.duckdb"
    on_progress("reading the exports", 1, 5)
    ingested = ingest_exports(ledger, market, exports, map_name=None, loaded_at=now)
    for day, file in STOCK_LISTS.items():
        ingest_exports(
            ledger,
            market,
            [directory / file],
            map_name=None,
            listed_on=min(day, day_of(now)),
            loaded_at=now,
        )
    on_progress("fitting the market", 2, 5)
    fitted = fit_ledger(ledger, market, fitted_at=now)
    with Workspace(ledger, market) as workspace:
        on_progress("valuing three pairs", 3, 5)
        appraisals = appraise_descriptions(workspace, tuple(PAIRS.values()), as_of=VALUED_ON)
        on_progress("building the pages", 4, 5)
        pages = directory / "pages"
        pages.mkdir(exist_ok=True)
        files = [f"{pages.name}/{name}.html" for name in PAIRS]
        written = tuple(
            write_page(
                appraisal_page(
                    appraisal, business=workspace.business, links=links_of(number, files, index=INDEX_PAGE)
                ),
                directory / files[number],
            )
            for number, appraisal in enumerate(appraisals)
        )
        pricing = write_pricing_page(
            workspace,
            pages / "pricing.html",
            as_of=VALUED_ON,
            links=(link_to(ALL_PAGES, INDEX_PAGE, on=f"{pages.name}/pricing.html"),),
        )
    index = write_index(
        [
            Entry("Price a pair", PRICING_SUMMARY, f"pages/{pricing.name}", kind=""),
            *(
                appraisal_entry(appraisal, f"pages/{page.name}")
                for appraisal, page in zip(appraisals, written, strict=True)
            ),
        ],
        directory / INDEX_PAGE,
        business=workspace.business,
        as_of=VALUED_ON,
        source=appraisals[0].source,
    )
    on_progress("done", 5, 5)
    return Demo(directory, ingested, fitted, appraisals, (*written, pricing), index)


def _holds_more(directory: Path) -> bool:
    """Return whether a folder holds anything but the files of a desk that is open on it."""
    return any(one.name != DESK_FOLDER for one in directory.iterdir())


def _write_scenario(directory: Path) -> tuple[Path, ...]:
    """Write market file, exports, lots and stock lists, none over one that the owner changed; return the exports."""
    if directory.exists() and not directory.is_dir():
        raise PairbandError(f"{directory} is a file, not a folder", "give the demo a folder of its own.")
    if directory.is_dir() and _holds_more(directory) and not (directory / MARK).exists():
        raise PairbandError(
            f"the folder {directory} is not empty, and is no demo's; nothing was written",
            "give the demo a folder of its own: `pairband demo FOLDER`.",
        )
    source = shipped("sample_data")
    try:
        for folder in FOLDERS:
            (directory / folder).mkdir(parents=True, exist_ok=True)
        (directory / MARK).touch()
    except OSError as exc:
        raise PairbandError(
            f"the demo cannot be written to {directory}: {exc.strerror}", "choose a folder you may write to."
        ) from exc
    files = {directory / "market.toml": source / "market.toml"} | {
        directory / folder / file.name: file
        for folder in FOLDERS
        for file in sorted((source / folder).iterdir())
    }
    for place, file in files.items():
        refuse_place(place, file.read_bytes())
    for place, file in files.items():
        write_file(file.read_bytes(), place)
    not_sales = {"upcoming_lots.csv", "stock.csv"}
    return tuple(path for path in sorted((directory / "exports").iterdir()) if path.name not in not_sales)
