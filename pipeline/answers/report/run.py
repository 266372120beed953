"""Build all reports of a ledger in one folder, tied together by an index page."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import partial
from pathlib import Path

from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.run import appraise_pairs
from pipeline.answers.audit.run import audit_ledger
from pipeline.answers.audit.tables import state_audit
from pipeline.answers.consignment.run import consign_pairs
from pipeline.answers.lots.run import value_lot_file
from pipeline.answers.lots.tables import state_lots
from pipeline.answers.market_view.run import view_ledger
from pipeline.answers.market_view.tables import state_market
from pipeline.answers.outcomes.run import judge_ledger
from pipeline.answers.outcomes.tables import state_outcomes
from pipeline.answers.pricing.run import write_pricing_page
from pipeline.answers.restoration.run import restore_stock
from pipeline.answers.restoration.tables import state_plan
from pipeline.answers.stock.answer import Stock, spent
from pipeline.answers.stock.listed import has_stock
from pipeline.answers.stock.run import records_here, stock_histories, thumbnails, value_stock
from pipeline.answers.stock.tables import state_stock
from pipeline.heed import Heed, go_on
from pipeline.market.fitted_market import Source
from pipeline.market.pair import Pair
from pipeline.market.subject import pairs_of_records
from pipeline.outfile import refuse_place
from pipeline.workspace import Workspace
from reports.appraisal.page import MOST_PICTURES as MOST_ON_APPRAISAL
from reports.appraisal.page import appraisal_page
from reports.audit.page import audit_page
from reports.consignment.page import MOST_PICTURES as MOST_ON_SHEET
from reports.consignment.page import consignment_page
from reports.links import INDEX as ALL_PAGES
from reports.links import link_to, links_of
from reports.lots.page import lots_page
from reports.market_view.page import market_page
from reports.outcomes.page import outcomes_page
from reports.page import write_page
from reports.photographs import ON_A_PAGE
from reports.report.index import (
    INDEX_PAGE,
    PRICING_SUMMARY,
    PRICING_SUMMARY_WITHOUT_SALES,
    Entry,
    write_index,
)
from reports.report.stock import StockPair
from reports.restoration.page import restoration_page
from reports.stock.page import stock_page

OnProgress = Callable[[str, int, int], None]
TITLE = "Reports"
STOCK_PAGE = "stock.html"
PAGES = (
    *(INDEX_PAGE, "pricing.html", STOCK_PAGE, "market.html", "lots.html", "restoration.html", "audit.html"),
    "outcomes.html",
)
"""The pages in the folder itself; those of the stock lie in `stock/` and `sheets/`."""


@dataclass(frozen=True)
class Built:
    """What was built: the index, every page that it leads to, what was not built, and which pictures are not shown."""

    index: Path
    pages: tuple[Path, ...]
    skipped: tuple[str, ...]
    unshown: tuple[str, ...] = ()


def build_reports(
    workspace: Workspace,
    directory: Path,
    *,
    as_of: date,
    stock: Path | None,
    lots: Path | None,
    with_sales: bool = True,
    on_progress: OnProgress,
) -> Built:
    """Write every report of a ledger to a folder, and return the pages; pages of the same name are replaced.

    The pricing page, the market and the audit always; what restoring does, and what to restore next of a `stock`
    list, with an appraisal and a consignment sheet of each pair on it; the watch list where there is a file of
    `lots`; the outcomes where values were kept. Without a file the stock is that of the ledger, if it has one.
    Without `with_sales` the pricing page carries no sales.
    """
    for page in sorted(
        {
            *(directory / name for name in PAGES),
            *directory.glob("stock/*.html"),
            *directory.glob("sheets/*.html"),
        }
    ):
        refuse_place(page)
    builder = _Builder(workspace, directory, as_of)
    steps: list[tuple[str, Callable[[], None]]] = [
        ("the pricing page", lambda: builder.pricing(with_sales=with_sales)),
    ]
    with_stock = stock is not None or has_stock(workspace, as_of=as_of)
    if with_stock:
        steps.append(("the stock", lambda: builder.stock(stock)))
    steps.append(("the market", builder.market))
    if lots is not None:
        steps.append(("the lots", lambda: builder.lots(lots)))
    steps.append(("restoration", lambda: builder.restoration(stock)))
    steps.append(("the audit", builder.audit))
    steps.append(("the outcomes", lambda: builder.outcomes(stock)))
    if with_stock:
        steps.append(("the appraisals", builder.appraisals))
        steps.append(("the consignment sheets", builder.sheets))
    for done, (what, step) in enumerate(steps):
        builder.heed = partial(on_progress, what, done, len(steps))
        builder.heed()
        step()
    on_progress("done", len(steps), len(steps))
    return builder.tie(_skipped(lots, with_stock=with_stock))


def _skipped(lots: Path | None, *, with_stock: bool) -> tuple[str, ...]:
    """Return what is left out because there is no list of it."""
    skipped = []
    if lots is None:
        skipped.append("upcoming lots: name a file of them with --lots")
    if not with_stock:
        skipped.append(
            "appraisals and consignment sheets: read your stock list into the ledger (`pairband ingest FILE`), or name "
            "it with --stock"
        )
    return tuple(skipped)


class _Builder:
    """The pages of one folder as they are built, in the order of the index."""

    def __init__(self, workspace: Workspace, directory: Path, as_of: date) -> None:
        self.heed: Heed = go_on
        self._workspace = workspace
        self._directory = directory
        self._as_of = as_of
        self._business = workspace.business
        self._entries: list[Entry] = []
        self._pages: list[Path] = []
        self._appraisals: tuple[Appraisal, ...] = ()
        self._pairs: tuple[StockPair, ...] = ()
        self._stock: Stock | None = None
        self._here: tuple[Pair, ...] = ()
        self._source: Source | None = None
        self._album = workspace.album(())
        self._home = (link_to(ALL_PAGES, INDEX_PAGE, on=INDEX_PAGE),)

    def market(self) -> None:
        view = view_ledger(self._workspace, as_of=self._as_of)
        self._source = view.source
        self._write(market_page(view, business=self._business, links=self._home), "market.html")
        self._list("The market", state_market(view))

    def pricing(self, *, with_sales: bool) -> None:
        path = self._directory / "pricing.html"
        self._pages.append(
            write_pricing_page(
                self._workspace, path, as_of=self._as_of, with_sales=with_sales, links=self._home
            )
        )
        summary = PRICING_SUMMARY if with_sales else PRICING_SUMMARY_WITHOUT_SALES
        self._list("Price a pair", summary)

    def lots(self, file: Path) -> None:
        listed = value_lot_file(self._workspace, file, as_of=self._as_of)
        self._write(lots_page(listed, business=self._business, links=self._home), "lots.html")
        self._list("Upcoming lots", state_lots(listed))

    def restoration(self, stock: Path | None) -> None:
        report = restore_stock(self._workspace, stock, as_of=self._as_of)
        self._write(restoration_page(report, business=self._business, links=self._home), "restoration.html")
        self._list("Restoration", state_plan(report))

    def stock(self, stock: Path | None) -> None:
        found = self._stock = value_stock(self._workspace, stock, as_of=self._as_of, by="era")
        self._here = pairs_of_records(records_here(self._workspace, stock, as_of=self._as_of))
        self._album = self._workspace.album([*found.pairs["stock_ref"], *found.sold["stock_ref"]])
        page = stock_page(
            found,
            business=self._business,
            links=self._home,
            pictures=thumbnails(found, self._album),
            events=stock_histories(self._workspace, found),
        )
        self._write(page, STOCK_PAGE)
        self._list("The stock", state_stock(found))

    def appraisals(self) -> None:
        found = appraise_pairs(self._workspace, self._here, as_of=self._as_of)
        self._appraisals = found
        pages, sheets = _numbered("stock", len(found)), _numbered("sheets", len(found))
        for number, (path, appraisal) in enumerate(zip(pages, found, strict=True)):
            sheet = link_to("Its consignment sheet", sheets[number], on=path)
            links = links_of(number, pages, index=INDEX_PAGE, other=sheet)
            pictures = self._album.photographs(appraisal.pair, longest=ON_A_PAGE, most=MOST_ON_APPRAISAL)
            self._write(
                appraisal_page(appraisal, business=self._business, links=links, pictures=pictures), path
            )

    def sheets(self) -> None:
        found = consign_pairs(self._workspace, self._here, as_of=self._as_of)
        pages, sheets = _numbered("stock", len(found)), _numbered("sheets", len(found))
        for path, consignment in zip(sheets, found, strict=True):
            sheet = consignment_page(
                consignment,
                business=self._business,
                house=self._workspace.market.business,
                pictures=self._album.photographs(consignment.pair, longest=ON_A_PAGE, most=MOST_ON_SHEET),
                language=self._workspace.language(),
            )
            self._write(sheet, path)
        costs = self._stock.pairs.select(spent()).to_series() if self._stock else ()
        self._pairs = tuple(map(StockPair, self._appraisals, pages, found, sheets, costs))

    def _write(self, html: str, file: str) -> None:
        self.heed()
        self._pages.append(write_page(html, self._directory / file))

    def audit(self) -> None:
        found = audit_ledger(self._workspace, as_of=self._as_of, on_progress=lambda done, total: self.heed())
        self._write(audit_page(found, business=self._business, links=self._home), "audit.html")
        self._list("The audit", state_audit(found))

    def outcomes(self, stock: Path | None) -> None:
        found = judge_ledger(self._workspace, as_of=self._as_of, stock=stock)
        if found.values.height:
            self._write(outcomes_page(found, business=self._business, links=self._home), "outcomes.html")
            self._list("Outcomes", state_outcomes(found)[0])

    def tie(self, skipped: tuple[str, ...]) -> Built:
        """Write the index of all pages built; the market's page is one of them, so that its source is known."""
        if self._source is None:
            raise ValueError("the index needs the market's page")
        index = write_index(
            self._entries,
            self._directory / INDEX_PAGE,
            business=self._business,
            as_of=self._as_of,
            source=self._source,
            title=TITLE,
            stock=self._pairs,
            whole=self._stock if self._pairs else None,
        )
        return Built(index, tuple(self._pages), skipped, self._album.notes)

    def _list(self, title: str, summary: str) -> None:
        file = self._pages[-1].relative_to(self._directory).as_posix()
        self._entries.append(Entry(title, summary, file, kind=""))


def _numbered(folder: str, count: int) -> list[str]:
    """Return so many files in a folder, numbered from 1 and as wide as the last."""
    digits = len(str(count))
    return [f"{folder}/{number:0{digits}}.html" for number in range(1, count + 1)]
