"""The size charts of makers: what a label of theirs says of the foot, where it is not what the usual formula says."""

from collections.abc import Mapping

from pipeline.config import Maker, Market
from pipeline.ingest.sizes import SizeChart, foot_mm
from pipeline.schema import SIZE_SYSTEMS

_BY_FORMULA = ("US men", "UK", "US women", "EU", "JP", "mm")
"""Whose formula gives a row its foot length, the first that it has; JP and mm as lengths of the foot come last."""


def size_charts(market: Market) -> dict[str, SizeChart]:
    """Return, for each maker with a chart, each system's sizes with the foot length (mm) of each, in order."""
    return {maker.name: _chart(maker) for maker in market.makers if maker.sizes}


def chart_of(silhouette: str | None, market: Market) -> SizeChart | None:
    """Return the chart of the maker of a silhouette; None where there is none."""
    known = market.silhouette_by_name.get(silhouette or "")
    return None if known is None else size_charts(market).get(known.maker)


def _chart(maker: Maker) -> SizeChart:
    sizes: list[dict[str, float]] = [
        {str(system): size for system, size in row.items()} for row in maker.sizes
    ]
    rows = [(row, _foot(row)) for row in sizes]
    chart = {
        system: tuple((row[system], foot) for row, foot in rows if system in row) for system in SIZE_SYSTEMS
    }
    chart["mm"] = chart["mm"] or tuple((size * 10, foot) for size, foot in chart["JP"])
    chart["JP"] = chart["JP"] or tuple((size / 10, foot) for size, foot in chart["mm"])
    return {system: sizes for system, sizes in chart.items() if sizes}


def _foot(row: Mapping[str, float]) -> float:
    if "foot_mm" in row:
        return row["foot_mm"]
    system = next(system for system in _BY_FORMULA if system in row)
    return foot_mm(system, row[system])
