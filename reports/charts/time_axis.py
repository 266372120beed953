"""The time axis: years as numbers, so that a chart reads the same in every zone."""

from datetime import date

import altair as alt

from reports.charts.price_axis import across_range


def year_number(day: date) -> float:
    """Return the day's month as a number of years: 2017-10 is 2017.75."""
    return round(day.year + (day.month - 1) / 12, 4)


def year_encoding(field: str, first: float, last: float, *, room: int = 0) -> alt.X:
    """Return the horizontal encoding of year numbers between first and last, a tick a year; room (px) is left free."""
    years = [year for year in range(int(first), int(last) + 2) if first <= year <= last]
    return alt.X(
        field,
        type="quantitative",
        title=None,
        scale=alt.Scale(domain=[first, last], nice=False, range=across_range(room)),
        axis=alt.Axis(values=years, format="d", labelOverlap=True, labelSeparation=10),
    )
