"""The time axis: years as numbers, so that a chart reads the same in every zone."""

from datetime import date

import altair as alt


def year_number(day: date) -> float:
    """Return the day's month as a number of years: 2017-10 is 2017.75."""
    return round(day.year + (day.month - 1) / 12, 4)


def year_encoding(field: str, first: float, last: float) -> alt.X:
    """Return the horizontal encoding of year numbers between first and last, a tick a year."""
    years = [year for year in range(int(first), int(last) + 2) if first <= year <= last]
    return alt.X(
        field,
        type="quantitative",
        title=None,
        scale=alt.Scale(domain=[first, last], nice=False),
        axis=alt.Axis(values=years, format="d", labelOverlap=True, labelSeparation=10),
    )
