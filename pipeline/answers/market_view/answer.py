"""The market as the records show it: what it did, by era and family, what was sold, what attributes are worth."""

from dataclasses import dataclass
from datetime import date

import polars as pl

from pipeline.answers.appraisal.cautions import Caution, fit_cautions, stale_cautions, weak_ones
from pipeline.answers.market_view.activity import Activity, activity_of
from pipeline.answers.market_view.attribute_values import AttributeValue, Halves, attribute_values
from pipeline.answers.market_view.groups import Split, split_market
from pipeline.answers.market_view.index import YEAR, Change, IndexPoint, changes, month_index
from pipeline.answers.market_view.resales import Resales, resale_index
from pipeline.config import Market
from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.fitted_market import FittedMarket, Source


@dataclass(frozen=True)
class MarketView:
    """What the market did and what it pays for, at a day, in `currency` (the base currency).

    `index` is the hedonic index by month (100 at `base`), `changes` what it did over the last months,
    `resales` the repeat-sales index beside it. `splits` are the same by era and by silhouette family,
    `activity` what was offered and sold by quarter and venue, `attribute_values` what each attribute does to the
    price. `halves` says how the records were halved to see whether a value moved. `cautions` are
    sentences; `weak` are those on every value of the fit that put it in doubt.
    """

    as_of: date
    currency: str
    base: date | None
    index: tuple[IndexPoint, ...]
    changes: tuple[Change, ...]
    resales: Resales
    splits: tuple[Split, ...]
    activity: tuple[Activity, ...]
    attribute_values: tuple[AttributeValue, ...]
    halves: Halves
    cautions: tuple[str, ...]
    source: Source
    weak: tuple[Caution, ...] = ()

    @property
    def year(self) -> Change | None:
        """Return what the market as a whole did in twelve months, or None where the records are shorter."""
        return next((change for change in self.changes if change.months == YEAR), None)


def view_market(
    fitted: FittedMarket,
    market: Market,
    sales: pl.DataFrame,
    resales: pl.DataFrame,
    activity: pl.DataFrame,
    *,
    as_of: date,
    stale: str = "",
) -> MarketView:
    """Return the view of the market at a day.

    `sales`, `resales` and `activity` have the columns of sql/marts/priced_sales.sql, repeat_sales.sql and
    market_activity.sql. `stale` is a sentence of caution where the fit is older than the records.
    """
    known = sales.filter(pl.col("sold_on") <= as_of).sort("record_id")
    with one_blas_thread():
        repeated = resale_index(fitted.fit, resales.filter(pl.col("second_sold_on") <= as_of), known)
        base, index = month_index(fitted.fit, as_of=as_of, base=None if repeated.rough else repeated.base)
        moved = changes(fitted.fit, as_of=as_of)
        year = next((change for change in moved if change.months == YEAR), None)
        splits = split_market(fitted.fit, market, known, year=year)
        values, halves = attribute_values(fitted.fit, known)
    return MarketView(
        as_of=as_of,
        currency=fitted.currency,
        base=base,
        index=index,
        changes=moved,
        resales=repeated,
        splits=splits,
        activity=activity_of(activity),
        attribute_values=_eras_in_order(values, [era.name for era in market.eras]),
        halves=halves,
        cautions=_cautions(fitted, index, as_of=as_of, stale=stale),
        source=fitted.source,
        weak=weak_ones((*stale_cautions(stale), *fit_cautions(fitted, as_of))),
    )


def _eras_in_order(values: tuple[AttributeValue, ...], eras: list[str]) -> tuple[AttributeValue, ...]:
    """Return the values with those of the era in the order of the market file, each other one in its place."""
    places = {name: place for place, name in enumerate(eras)}
    ordered = iter(
        sorted(
            (one for one in values if one.attribute == "era"),
            key=lambda one: places.get(one.value, len(places)),
        )
    )
    return tuple(next(ordered) if one.attribute == "era" else one for one in values)


def _cautions(
    fitted: FittedMarket, index: tuple[IndexPoint, ...], *, as_of: date, stale: str
) -> tuple[str, ...]:
    cautions = [stale] if stale else []
    if not index and as_of < fitted.first_sale:
        cautions.append(f"The records begin only on {fitted.first_sale.isoformat()}.")
    elif not index:
        cautions.append(
            f"There is no index of the market: the {fitted.records} sales are too few to compare months, or the "
            "model has no month term."
        )
    if as_of < fitted.last_sale:
        cautions.append(
            f"The index up to {as_of.isoformat()} also rests on later sales, up to {fitted.last_sale.isoformat()}."
        )
    trend = fitted.fit.trend is not None
    if index and trend:
        cautions.append("In its last months the index counts the market's trend, as values do.")
    silent = sum(point.period > fitted.last_sale for point in index)
    if silent:
        goes = "goes on with the trend" if trend else "is flat"
        cautions.append(
            f"No sale is recorded after {fitted.last_sale.isoformat()}: from there the index {goes} "
            "and its band widens."
        )
    return tuple(cautions)
