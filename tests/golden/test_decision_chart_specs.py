"""The specifications of the charts of deciding as text: what Altair is asked to draw.

`python -m tests.golden.test_decision_chart_specs` writes them anew, to be read before they are committed.
"""

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import altair as alt
import polars as pl
import pytest

from pipeline.answers.consignment.answer import AskPoint, VenueOffer
from pipeline.answers.consignment.price_split import PriceSplit
from reports.audit.page import coverage_frame
from reports.changed.page import changed_drawings
from reports.charts.intervals import interval_chart
from reports.consignment.asks import asks_chart
from reports.era_odds.chart import era_odds_chart
from reports.lots.room_to_bid import room_chart
from reports.outcomes.profits import profits_chart
from reports.understood.page import understood_figures
from tests.audits import usual_audit
from tests.changes import some_changed
from tests.golden.specs import written_spec
from tests.understandings import usual_file

HERE = Path(__file__).parent / "charts"


def some_lots() -> pl.DataFrame:
    """Return three lots with room to bid, one of them hardly any."""
    return pl.DataFrame(
        {
            "words": ["1. Gannet Hi Kelp", "2. Plover Lo", "3. Razorbill"],
            "figure": ["€250", "€243", "€180"],
            "tip": ["€100 at the present bid, €250 at the maximum bid"] * 3,
            "landed": [100.0, 120.0, 178.0],
            "walk_away": [250.0, 243.0, 180.0],
        }
    )


def some_offer() -> VenueOffer:
    """Return an offer at fixed prices with a curve of three asks."""
    whole, nought = Decimal(400), Decimal(0)
    divided = PriceSplit(whole, nought, whole, whole, nought, nought, nought, whole)
    curve = tuple(
        AskPoint(ratio, 400 * ratio, (0.9 - gap, 0.95 - gap, 0.97 - gap), 0.95 - gap, 300.0)
        for ratio, gap in ((0.8, 0.0), (1.0, 0.3), (1.3, 0.6))
    )
    return VenueOffer("Shop", "shop", "EUR", 400.0, 300.0, 520.0, divided, 1.0, 2.0, None, (), curve)


def some_eras() -> pl.DataFrame:
    """Return a pair in doubt between two eras."""
    return pl.DataFrame(
        {
            "words": ["In doubt", "If first (70 %)", "If second (30 %)"],
            "figure": ["€700", "€800", "€300"],
            "range": ["€250 to €1,000", "€600 to €1,040", "€220 to €400"],
            "middle": [700.0, 800.0, 300.0],
            "low": [250.0, 600.0, 220.0],
            "high": [1000.0, 1040.0, 400.0],
            "chance": [None, 0.7, 0.3],
            "guess": [False, False, True],
        }
    )


def some_profits() -> pl.DataFrame:
    """Return three months of sales, one of them at a loss."""
    return pl.DataFrame(
        {
            "words": ["March 2026, 4 sold", "February 2026, 1 sold", "January 2026, 2 sold"],
            "figure": ["+€310", "−€45", "+€120"],
            "tip": ["net €700, cost €390", "net €80, cost €125", "net €300, cost €180"],
            "profit": [310.0, -45.0, 120.0],
        }
    )


CASES: dict[str, Callable[[], alt.LayerChart]] = {
    "understood_fields": lambda: understood_figures(usual_file())[0].chart,
    "lots_room": lambda: room_chart(some_lots(), "EUR"),
    "changed_parts": lambda: changed_drawings(some_changed())[0].chart,
    "consign_asks": lambda: asks_chart(some_offer(), "EUR", patience=60),
    "profits": lambda: profits_chart(some_profits(), "Profit by month", "EUR"),
    "eras_in_doubt": lambda: era_odds_chart(some_eras(), "EUR"),
    "audit_bands": lambda: interval_chart(
        coverage_frame(usual_audit()), "What the bands held", "Points", form="band-95"
    ),
}


def written(name: str) -> str:
    return written_spec(CASES[name]())


@pytest.mark.parametrize("name", CASES)
def test_a_chart_of_deciding_is_asked_for_as_before(name: str) -> None:
    assert written(name) == (HERE / f"{name}.json").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", CASES)
def test_a_chart_of_deciding_keeps_to_the_schema(name: str) -> None:
    assert CASES[name]().to_dict(validate=True)["layer"]


if __name__ == "__main__":
    for case in CASES:
        (HERE / f"{case}.json").write_text(written(case), encoding="utf-8")
