"""How a chart's specification is written down, so that a change to it is seen."""

import json
from typing import Any

import altair as alt

from reports.export import chart_spec


def to_nine_digits(value: Any) -> Any:
    """Return a specification with every figure to nine digits: the last ones differ from machine to machine."""
    if isinstance(value, float):
        return float(f"{value:.9g}")
    if isinstance(value, dict):
        return {key: to_nine_digits(part) for key, part in value.items()}
    return [to_nine_digits(part) for part in value] if isinstance(value, list) else value


def written_spec(chart: alt.LayerChart) -> str:
    """Return a chart's specification as text, its schema's version and the frames' hashes left out."""
    spec = chart_spec(chart)
    spec.pop("$schema")
    text = json.dumps(to_nine_digits(spec), ensure_ascii=False, indent=1) + "\n"
    for number, frame in enumerate(spec["datasets"], start=1):
        text = text.replace(frame, f"frame-{number}")
    return text
