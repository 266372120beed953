"""The frames behind the market's charts and their tables."""

from collections.abc import Sequence

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.cautions import FEW_SALES
from pipeline.answers.market_view.answer import MarketView
from pipeline.answers.market_view.attribute_values import AttributeValue
from pipeline.answers.market_view.groups import Split
from pipeline.answers.market_view.index import IndexPoint
from pipeline.answers.market_view.resales import Resales
from pipeline.answers.market_view.tables import (
    NAME,
    agreement_table,
    group_table,
    index_table,
    moves_table,
    value_table,
    year_table,
)
from pipeline.answers.sheet import Table, known
from pipeline.schema import UNKNOWN
from pipeline.untrusted import show_words
from reports.charts.time_axis import year_number

YEAR_QUARTERS = 4
COMPLETENESS = ("box", "tags", "overlay", "part")
"""The attributes whose values share one chart."""

_NUMBER = r"^(\d+(?:\.\d+)?)"


def index_frame(points: Sequence[IndexPoint], months: int = 1) -> pl.DataFrame:
    """Return one row a period of an index: at (the middle of the period, in years), index, low, high, and texts.

    Columns: at, index, low, high (Float64), period, figure, band, sales (String).
    """
    table = index_table("", points, months)
    middles = [round(year_number(point.period) + (months // 2) / 12, 4) for point in reversed(points)]
    return table.rows.select(
        pl.Series("at", middles, pl.Float64),
        _plain("index", "low", "high"),
        *table.text_columns(period="named", figure="index", band="band", sales="sales"),
    ).reverse()


def change_frame(view: MarketView) -> pl.DataFrame:
    """Return one row a change over the last year, as `interval_chart` reads it, and its span as text."""
    table = year_table(view)
    return _intervals(table, "group").with_columns(table.rows["span"])


def agreement_frame(resales: Resales) -> pl.DataFrame:
    """Return one row a year of what resales fetched beside the index, as `interval_chart` reads it."""
    table = agreement_table(resales)
    return _intervals(table, "year").with_columns(
        words=pl.Series(
            [
                f"{year}: {formats.counted(pairs, 'resale')}"
                for year, pairs in table.rows.select("year", "pairs").iter_rows()
            ],
            dtype=pl.String,
        )
    )


def _intervals(table: Table, words: str) -> pl.DataFrame:
    """Return the rows of a table of factors with their 80 % bands, as `interval_chart` reads them."""
    return table.rows.select(
        *table.text_columns(words=words, figure="factor"),
        pl.Series("said", [f"80 % band {band}" for band in table.texts_of("band")], pl.String),
        *(
            ((pl.col(key).cast(pl.Float64) - 1) * 100).round(4).alias(name)
            for name, key in (("middle", "factor"), ("low", "low"), ("high", "high"))
        ),
    )


def group_frame(split: Split) -> pl.DataFrame:
    """Return one row a group and quarter, as `group_lines` reads it; `market` is the mean of the groups."""
    table = group_table(split)
    heads = [
        (
            number,
            f"{show_words(group.name, NAME)}, {formats.counted(group.sales, 'sale')}",
            f"{formats.percent_change(group.difference.factor)} against the market",
            round(year_number(point.period) + 1 / 12, 4),
        )
        for number, group in enumerate(split.groups)
        for point in group.points
    ]
    tips = [f"{quarter}: {index} ({band})" for _, quarter, index, band, _ in table.texts()]
    return pl.DataFrame(heads, ["row", "words", "figure", "at"], orient="row").with_columns(
        *table.text_columns(quarter="period"),
        *table.rows.select(_plain("index", "low", "high", "market")),
        pl.Series("tip", tips, pl.String),
    )


def venue_frame(view: MarketView, measure: str) -> pl.DataFrame:
    """Return one row a venue and quarter of a measure: "sold", "sell-through" or "days".

    As `quarter_chart` reads it, with the row's own figure over its last four quarters.
    """
    kept = [
        row
        for row in view.activity
        if measure == "sold" or (row.sell_through if measure == "sell-through" else row.days) is not None
    ]
    recent = sorted({row.quarter for row in view.activity})[-YEAR_QUARTERS:]
    venues = sorted({row.venue for row in kept})
    rows = []
    for number, venue in enumerate(venues):
        own = [row for row in kept if row.venue == venue]
        late = [row for row in own if row.quarter in recent]
        sold, unsold = sum(row.sold for row in late), sum(row.unsold for row in late)
        days = sorted(row.days for row in late if row.days is not None)
        figure = {
            "sold": f"{formats.count(sold)} sold in a year",
            "sell-through": f"{formats.level(sold / (sold + unsold))} in a year" if sold + unsold else "–",
            "days": f"{days[len(days) // 2]:.0f} days lately" if days else "–",
        }[measure]
        for row in own:
            value = {"sold": row.sold, "sell-through": row.sell_through, "days": row.days}[measure] or 0.0
            rows.append(
                {
                    "row": number,
                    "words": show_words(venue, NAME),
                    "figure": figure,
                    "at": year_number(row.quarter),
                    "quarter": formats.quarter(row.quarter),
                    "value": float(value),
                    "whole": float(row.sold + row.unsold) if measure == "sold" else float(value),
                    "tip": _described(measure, row.sold, row.unsold, row.sell_through, row.days),
                }
            )
    return pl.DataFrame(
        rows,
        schema={
            "row": pl.Int64,
            "words": pl.String,
            "figure": pl.String,
            "at": pl.Float64,
            "quarter": pl.String,
            "value": pl.Float64,
            "whole": pl.Float64,
            "tip": pl.String,
        },
    )


def _figure(share: str, error: str) -> str:
    """Return an effect with its error; one that the fit shrinks to nothing, since the sales show none, in words."""
    return "none found" if formats.is_zero(share) and formats.is_zero(error) else f"{share} ± {error}"


def value_frame(values: Sequence[AttributeValue]) -> pl.DataFrame:
    """Return one row a value, as `interval_chart` and `curve_chart` read it, and its texts.

    Columns besides those: attribute, value, against, share (String), guess (Boolean: too few sales to rely on), known
    (Boolean: the value is known), at (Float64: the value as a number, where it is one).
    """
    table = value_table("values", "", values)
    mixed = table.rows["attribute"].n_unique() > 1
    worth = zip(table.texts_of("share"), table.texts_of("error"), strict=True)
    rests = [
        f"{formats.counted(one.effect.sales, 'sale')}; the line is one standard error either way"
        for one in values
    ]
    share, error = pl.col("share") * 100, pl.col("error")
    return table.rows.select(
        words=pl.Series([_value_words(one, mixed=mixed) for one in values], dtype=pl.String),
        figure=pl.Series([_figure(*one) for one in worth], dtype=pl.String),
        said=pl.Series(rests, dtype=pl.String),
        middle=share.round(4),
        low=(share - error).round(4),
        high=(share + error).round(4),
        attribute="attribute",
        value="value",
        against="against",
        share=pl.Series(table.texts_of("share"), dtype=pl.String),
        guess=pl.col("sales") < FEW_SALES,
        known=pl.Series([one.value != UNKNOWN for one in values], dtype=pl.Boolean),
        at=pl.col("value").str.extract(_NUMBER).cast(pl.Float64),
    )


def curve_frame(values: Sequence[AttributeValue]) -> pl.DataFrame:
    """Return the known values of an ordered attribute in their order, the one they are compared with at zero."""
    known = value_frame(values).filter(pl.col("known") & pl.col("at").is_not_null())
    against = values[0].against
    zero = {
        "words": show_words(against, NAME),
        "figure": "the one compared with",
        "said": "every other value is compared with this one",
        "middle": 0.0,
        "low": 0.0,
        "high": 0.0,
    }
    start = pl.DataFrame([zero]).with_columns(at=pl.lit(against).str.extract(_NUMBER).cast(pl.Float64))
    return pl.concat([known.select(start.columns), start]).sort("at")


def move_frame(values: Sequence[AttributeValue]) -> pl.DataFrame:
    """Return one row a value that moved, as `moves_chart` reads it: words, figure, earlier and later in per cent."""
    table = moves_table(values)
    texts = table.texts()
    return table.rows.select(
        pl.Series("words", [f"{attribute}: {value}" for attribute, value, _, _ in texts], pl.String),
        pl.Series("figure", [f"{earlier} → {later}" for _, _, earlier, later in texts], pl.String),
        (pl.col("earlier", "later").cast(pl.Float64) * 100).round(4),
    )


def _value_words(one: AttributeValue, *, mixed: bool) -> str:
    value = known(show_words(one.value, NAME))
    named = f"{one.attribute}: {value}" if mixed else value
    return f"{named}, against {show_words(one.against, NAME)}" if one.against and mixed else named


def _described(measure: str, sold: int, unsold: int, through: float | None, days: float | None) -> str:
    if measure == "days":
        return f"{days:.0f} days, the median of {formats.count(sold)} sold" if days is not None else "–"
    share = f", sell-through {formats.level(through)}" if through is not None else ""
    return f"{formats.count(sold)} sold, {formats.count(unsold)} unsold{share}"


def _plain(*names: str) -> pl.Expr:
    """Return columns of numbers to six significant figures: a chart needs no more."""
    return pl.col(*names).cast(pl.Float64).round_sig_figs(6)
