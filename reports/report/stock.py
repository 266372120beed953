"""The stock in one table of the index: each pair with its era, grade, cost and value, its pages, and the totals."""

from collections.abc import Sequence
from dataclasses import dataclass

from pipeline import formats
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.cautions import weakness_names
from pipeline.answers.appraisal.tables import middle_band, range_words
from pipeline.answers.consignment.answer import Consignment
from pipeline.answers.sheet import NONE, NOT_KNOWN
from pipeline.untrusted import show_words
from reports.facts import pair_heading
from reports.links import Link, link_to


@dataclass(frozen=True)
class StockPair:
    """A pair of the stock: its appraisal and consignment with their pages, and its cost with the work paid on it.

    The cost is in the base currency, None where it is not known.
    """

    appraisal: Appraisal
    page: str
    consignment: Consignment
    sheet: str
    cost: float | None


@dataclass(frozen=True)
class StockRow:
    """One pair as the index shows it."""

    pair: Link
    label: str
    era: str
    grade: str
    cost: str
    value: str
    band: str
    sheet: Link
    weak: str


def stock_rows(pairs: Sequence[StockPair], *, on: str) -> tuple[StockRow, ...]:
    """Return one row a pair, for the page `on` which the table stands."""
    return tuple(_row(pair, on) for pair in pairs)


def state_weak(pairs: Sequence[StockPair]) -> str:
    """Return the sentence that says how many values rest on weak evidence; "" where none does."""
    weak = sum(bool(pair.appraisal.weak) for pair in pairs)
    if not weak:
        return ""
    return f"{weak} of {formats.counted(len(pairs), 'value')} {'rests' if weak == 1 else 'rest'} on weak evidence."


def _row(pair: StockPair, on: str) -> StockRow:
    appraisal, consignment = pair.appraisal, pair.consignment
    model, label = pair_heading(appraisal.pair)
    band = middle_band(appraisal.bands)
    best = consignment.recommended[:1]
    net = formats.estimate(best[0].net, consignment.currency) if best else "no venue"
    return StockRow(
        link_to(model, pair.page, on=on),
        label,
        show_words(appraisal.pair.era or NOT_KNOWN, 80),
        NONE if appraisal.pair.grade is None else f"{appraisal.pair.grade:g}",
        NONE if pair.cost is None else formats.amount(pair.cost, appraisal.currency),
        ("about " if appraisal.weak else "") + formats.estimate(appraisal.median, appraisal.currency),
        NONE if band is None else range_words(band.low, band.high, appraisal.currency),
        link_to(net, pair.sheet, on=on),
        weakness_names(appraisal.weak),
    )
