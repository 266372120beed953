"""The specifications of the market's charts as text: what Altair is asked to draw.

`python -m tests.golden.test_market_chart_specs` writes them anew, to be read before they are committed.
"""

from collections.abc import Callable
from pathlib import Path

import altair as alt
import pytest

from reports.charts.intervals import interval_chart
from reports.market_view.curve import curve_chart
from reports.market_view.frames import (
    curve_frame,
    group_frame,
    index_frame,
    move_frame,
    value_frame,
    venue_frame,
)
from reports.market_view.group_lines import group_lines
from reports.market_view.index import index_chart
from reports.market_view.moves import moves_chart
from reports.market_view.quarters import quarter_chart
from tests.golden.specs import written_spec
from tests.market_views import usual_market

HERE = Path(__file__).parent / "charts"
VIEW = usual_market()
SIZES = [one for one in VIEW.attribute_values if one.attribute == "size"]
ERAS = [one for one in VIEW.attribute_values if one.attribute == "era"]

CASES: dict[str, Callable[[], alt.LayerChart]] = {
    "market_index": lambda: index_chart(
        index_frame(VIEW.index), index_frame(VIEW.resales.points, 6), "The index", "January 2020"
    ),
    "market_groups": lambda: group_lines(group_frame(VIEW.splits[0]), "The index by era"),
    "market_sold": lambda: quarter_chart(
        venue_frame(VIEW, "sold"), "Offered and sold", most=61.0, most_text="61", outline=True
    ),
    "market_eras": lambda: interval_chart(value_frame(ERAS), "Era", "Per cent of the price", form="error"),
    "market_sizes": lambda: curve_chart(curve_frame(SIZES), "Size", "Foot length (mm)"),
    "market_moves": lambda: moves_chart(move_frame(VIEW.attribute_values), "Values that moved"),
}


def written(name: str) -> str:
    return written_spec(CASES[name]())


@pytest.mark.parametrize("name", CASES)
def test_a_chart_of_the_market_is_asked_for_as_before(name: str) -> None:
    assert written(name) == (HERE / f"{name}.json").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", CASES)
def test_a_chart_of_the_market_keeps_to_the_schema(name: str) -> None:
    assert CASES[name]().to_dict(validate=True)["layer"]


if __name__ == "__main__":
    for case in CASES:
        (HERE / f"{case}.json").write_text(written(case), encoding="utf-8")
