"""The charts' specifications as text: what Altair is asked to draw.

`python -m tests.golden.test_chart_specs` writes them anew, to be read before they are committed.
"""

from collections.abc import Callable
from pathlib import Path

import altair as alt
import pytest

from pipeline.answers.appraisal.appraisal import Appraisal
from reports.appraisal.band import band_chart
from reports.appraisal.comparables import comparables_chart
from reports.appraisal.waterfall import waterfall_chart
from tests.appraisals import pair_outside_the_data, rare_pair
from tests.golden.specs import written_spec

HERE = Path(__file__).parent / "charts"
CASES: dict[str, tuple[Callable[[Appraisal], alt.LayerChart], Callable[[], Appraisal]]] = {
    "band_rare": (band_chart, rare_pair),
    "band_outside": (band_chart, pair_outside_the_data),
    "waterfall_rare": (waterfall_chart, rare_pair),
    "comparables_rare": (comparables_chart, rare_pair),
}


def written(name: str) -> str:
    chart, pair = CASES[name]
    return written_spec(chart(pair()))


@pytest.mark.parametrize("name", CASES)
def test_a_chart_is_asked_for_as_before(name: str) -> None:
    assert written(name) == (HERE / f"{name}.json").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", CASES)
def test_a_chart_keeps_to_the_schema(name: str) -> None:
    chart, pair = CASES[name]
    assert chart(pair()).to_dict(validate=True)["layer"]


if __name__ == "__main__":
    for case in CASES:
        (HERE / f"{case}.json").write_text(written(case), encoding="utf-8")
