"""The charts' specifications as text: what Altair is asked to draw.

`python -m tests.golden.test_chart_specs` writes them anew, to be read before they are committed.
"""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import altair as alt
import pytest

from pipeline.decisions.appraisal import Appraisal
from reports.charts.band import band_chart
from reports.charts.comparables import comparables_chart
from reports.charts.waterfall import waterfall_chart
from reports.export import chart_spec
from tests.appraisals import pair_outside_the_data, rare_pair

HERE = Path(__file__).parent / "charts"
CASES: dict[str, tuple[Callable[[Appraisal], alt.LayerChart], Callable[[], Appraisal]]] = {
    "band_rare": (band_chart, rare_pair),
    "band_outside": (band_chart, pair_outside_the_data),
    "waterfall_rare": (waterfall_chart, rare_pair),
    "comparables_rare": (comparables_chart, rare_pair),
}


def to_nine_digits(value: Any) -> Any:
    """Return a specification with every figure to nine digits: the last ones differ from machine to machine."""
    if isinstance(value, float):
        return float(f"{value:.9g}")
    if isinstance(value, dict):
        return {key: to_nine_digits(part) for key, part in value.items()}
    return [to_nine_digits(part) for part in value] if isinstance(value, list) else value


def written(name: str) -> str:
    """Return a chart's specification as text, its schema's version and the frames' hashes left out."""
    chart, pair = CASES[name]
    spec = chart_spec(chart(pair()))
    spec.pop("$schema")
    text = json.dumps(to_nine_digits(spec), ensure_ascii=False, indent=1) + "\n"
    for number, frame in enumerate(spec["datasets"], start=1):
        text = text.replace(frame, f"frame-{number}")
    return text


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
