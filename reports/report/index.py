"""The index page: one link a page, with what it says in a line."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from pipeline import formats
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.tables import state_answer
from pipeline.answers.stock.answer import Stock
from pipeline.answers.stock.tables import NOT_A_SUM, groups_table
from pipeline.market.fitted_market import Source
from pipeline.untrusted import show_sentences, show_words
from reports.facts import pair_heading
from reports.links import link_to
from reports.page import render_page, write_page
from reports.report.stock import StockPair, state_weak, stock_rows

INDEX_PAGE = "index.html"
PRICING_SUMMARY = "Any pair, valued as you describe it: band, what makes the price, and the nearest sales."
PRICING_SUMMARY_WITHOUT_SALES = "Any pair, valued as you describe it: band, and what makes the price."


@dataclass(frozen=True)
class Entry:
    """One page of the index: `file` lies beside the index or below it; `kind` heads its group ("" heads none)."""

    title: str
    summary: str
    file: str
    kind: str = "Appraisals"

    @property
    def href(self) -> str:
        """Return the link to the page; raises ReportError where it leads out of the folder."""
        return link_to(self.title, self.file, on=INDEX_PAGE).href


def appraisal_entry(appraisal: Appraisal, file: str) -> Entry:
    """Return the index's entry for an appraisal whose page is `file`."""
    model, label = pair_heading(appraisal.pair)
    return Entry(f"{model}, {label}" if label else model, state_answer(appraisal), file)


def index_page(
    entries: Sequence[Entry],
    *,
    business: str,
    as_of: date,
    source: Source,
    title: str = "Pages",
    stock: Sequence[StockPair] = (),
    whole: Stock | None = None,
) -> str:
    """Return the HTML of the page that ties pages together: by kind in the order given, the `stock` in one table,
    its last row what the `whole` of it is worth.

    Raises ReportError for an entry whose file does not lie beside the index or below it.
    """
    groups: dict[str, list[dict[str, str]]] = {}
    for entry in entries:
        shown = {
            "title": show_words(entry.title, 160) or entry.href,
            "summary": show_sentences(entry.summary),
            "href": entry.href,
        }
        groups.setdefault(show_words(entry.kind, 80), []).append(shown)
    return render_page(
        "report/index.html.j2",
        business=business,
        title=title,
        as_of=formats.day(as_of),
        source=source,
        groups=list(groups.items()),
        stock=stock_rows(stock, on=INDEX_PAGE),
        together=_together(whole, stock) if whole else None,
        worked=whole is not None and whole.has_work,
    )


def _together(whole: Stock, pairs: Sequence[StockPair]) -> dict[str, str]:
    """Return the last row of the stock's table: all pairs together, as the page of the stock says it."""
    groups = groups_table(whole)
    last = {key: groups.texts_of(key)[-1] for key in ("pairs", "cost", "median", "band")}
    return last | {"note": f"{NOT_A_SUM} {state_weak(pairs)}".strip()}


def write_index(
    entries: Sequence[Entry],
    path: Path,
    *,
    business: str,
    as_of: date,
    source: Source,
    title: str = "Pages",
    stock: Sequence[StockPair] = (),
    whole: Stock | None = None,
) -> Path:
    """Write the index page and return its path; raises ReportError where it cannot."""
    html = index_page(
        entries, business=business, as_of=as_of, source=source, title=title, stock=stock, whole=whole
    )
    return write_page(html, path)
