"""The percent axis: signed per cents, zero plain, the same for every layer of a chart."""

from collections.abc import Iterable
from dataclasses import dataclass

import altair as alt

from reports.charts.price_axis import across_range

_PAD = 0.08
_LEAST = 1.0
_LABEL = "datum.value == 0 ? '0' : format(datum.value, '+.1~f')"


@dataclass(frozen=True)
class PercentAxis:
    """A percent axis: its ends, in per cent, its title, and the room (px) at its right for figures."""

    low: float
    high: float
    title: str
    room: int = 0
    on_top: bool = False

    def across(self, field: str) -> alt.X:
        """Return the horizontal encoding of a field of per cents."""
        axis = alt.Axis(
            labelExpr=_LABEL,
            tickCount=6,
            labelOverlap=True,
            labelSeparation=6,
            orient="top" if self.on_top else alt.Undefined,
        )
        return alt.X(field, type="quantitative", title=self.title, scale=self._scale(), axis=axis)

    def upwards(self, field: str) -> alt.Y:
        """Return the vertical encoding of a field of per cents."""
        axis = alt.Axis(labelExpr=_LABEL, tickCount=6)
        return alt.Y(field, type="quantitative", title=self.title, scale=self._scale(), axis=axis)

    def _scale(self) -> alt.Scale:
        return alt.Scale(domain=[self.low, self.high], nice=False, range=across_range(self.room))


def percent_axis(values: Iterable[float], title: str, *, room: int = 0, on_top: bool = False) -> PercentAxis:
    """Return the axis on which zero and all these per cents can be seen; it stands at the foot, or `on_top`."""
    ends = [0.0, *values]
    pad = max((max(ends) - min(ends)) * _PAD, _LEAST)
    return PercentAxis(float(f"{min(ends) - pad:.6g}"), float(f"{max(ends) + pad:.6g}"), title, room, on_top)
