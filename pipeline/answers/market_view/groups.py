"""The market by era and by silhouette family: whether a group moved differently from the market."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import exp, hypot, log

import polars as pl

from pipeline.answers.market_view.index import Change, IndexPoint, change_over, index_points, month_walk
from pipeline.config import Market
from pipeline.errors import FitError
from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.index import period_index
from pipeline.hedonic.specification import Specification, Term
from pipeline.schema import UNKNOWN

QUARTER = 3
YEAR_QUARTERS = 4
FEWEST_SALES = 60
"""A group with fewer sales than this gets no index of its own."""

SURE = 1.959963984540054
"""How many standard errors a group must be from the market to be said to move differently (95 %)."""

_FIT_TOLERANCE = 1e-4
_ALL = "quarter of all"
_OWN = "quarter of each"


@dataclass(frozen=True)
class Group:
    """One era or family: its index by quarter (100 in the first), and what it did.

    `year` is what the market did in the last year, times how the group differed from it.
    `ratio_by_quarter` is its index over that of the market, by quarter (1 in the first).
    `difference` is how much further than the market as a whole it went from first to last quarter (1.10: ten
    per cent further), with the 80 % band; `differs` says whether that is more than chance explains (95 %).
    """

    name: str
    sales: int
    points: tuple[IndexPoint, ...]
    ratio_by_quarter: tuple[float, ...]
    year: Change | None
    whole: Change
    difference: Change
    differs: bool


@dataclass(frozen=True)
class Split:
    """The market split by `kind` ("era", "family").

    `groups` is empty where the records are too thin for the split; `words` says what they show or why not.
    """

    kind: str
    groups: tuple[Group, ...]
    words: str

    @property
    def different(self) -> tuple[Group, ...]:
        """Return the groups that moved differently from the market."""
        return tuple(group for group in self.groups if group.differs)


def split_market(
    whole: Fit, market: Market, sales: pl.DataFrame, *, year: Change | None
) -> tuple[Split, ...]:
    """Return the market by era and by silhouette family; `year` is what the market as a whole did in the last year.

    `sales` has the columns of sql/marts/priced_sales.sql, `whole` is the fit to them, whose terms are
    kept, its walk over months replaced by one over quarters and one more for each group.
    """
    families = {silhouette.name: silhouette.family for silhouette in market.silhouettes if silhouette.family}
    eras = {era.name: era.name for era in market.eras}
    return (
        _split(whole, sales, "era", "era", eras, "eras", year),
        _split(whole, sales, "family", "silhouette", families, "silhouette families", year),
    )


def _split(
    whole: Fit,
    sales: pl.DataFrame,
    kind: str,
    column: str,
    groups: Mapping[str, str],
    plural: str,
    year: Change | None,
) -> Split:
    grouped = sales.with_columns(
        (pl.col("month") // QUARTER).alias("quarter"),
        pl.col(column).replace_strict(groups, default=None, return_dtype=pl.String).alias("group"),
    )
    counts = dict(
        grouped.drop_nulls("group")
        .group_by("group")
        .len()
        .filter(pl.col("len") >= FEWEST_SALES)
        .sort("len", "group", descending=[True, False])
        .iter_rows()
    )
    names = [name for name in dict.fromkeys(groups.values()) if name in counts]
    if len(names) < 2:
        return Split(kind, (), f"There is no index by {kind}: {_too_few(groups, names, plural)}.")
    if month_walk(whole) is None:
        return Split(kind, (), f"There is no index by {kind}: the sales are too few to compare months.")
    if grouped["quarter"].n_unique() < 3:
        return Split(kind, (), f"There is no index by {kind}: the records cover too few quarters.")
    kept = grouped.with_columns(
        pl.when(pl.col("group").is_in(names)).then("group").otherwise(pl.lit(UNKNOWN)).alias("group")
    )
    try:
        fitted = fit(kept, _terms(whole), robust=whole.robust, tolerance=_FIT_TOLERANCE)
    except FitError as exc:
        return Split(kind, (), f"There is no index by {kind}: {exc.what}.")
    found = _with_market([_group(fitted, kept, name, counts[name]) for name in names], year)
    return Split(kind, found, _words(plural, found))


def _terms(whole: Fit) -> Specification:
    kept = [term for term in whole.specification.terms if term.kind != "walk"]
    walks = (Term(_ALL, "walk", ("quarter",)), Term(_OWN, "walk", ("quarter", "group")))
    return Specification(whole.specification.response, (*kept, *walks))


def _group(fitted: Fit, sales: pl.DataFrame, name: str, count: int) -> Group:
    own = sales.filter(pl.col("group") == name)["quarter"]
    first, last = int(sales["quarter"].to_numpy().min()), int(sales["quarter"].to_numpy().max())
    terms, within = [_ALL, _OWN], {"group": name}
    counted = dict(own.value_counts().iter_rows())
    points = period_index(fitted, terms, range(first, last + 1), base=first, within=within).with_columns(
        pl.Series("records", [counted.get(quarter, 0) for quarter in range(first, last + 1)])
    )
    own_path = period_index(fitted, [_OWN], range(first, last + 1), base=first, within=within)
    apart = own_path.row(-1, named=True)

    def change(since: int, of: list[str]) -> Change:
        return change_over(fitted, of, since, last, months=QUARTER, within=within)

    return Group(
        name,
        count,
        index_points(points, QUARTER),
        tuple(index / 100 for index in own_path["index"]),
        change(last - YEAR_QUARTERS, [_OWN]) if last - YEAR_QUARTERS >= first else None,
        change(first, terms),
        change(first, [_OWN]),
        abs(apart["effect"]) > SURE * apart["error"] > 0,
    )


def _with_market(groups: list[Group], year: Change | None) -> tuple[Group, ...]:
    """Return groups whose year is that of the market, times how their own differed from the mean of them all.

    The mean is over the sales of the year, so the groups together make up the market. The band holds the market's
    and the group's own.
    """
    own = [group.year for group in groups if group.year is not None]
    if year is None or len(own) < len(groups):
        return tuple(replace(group, year=None) for group in groups)
    weights = [1 + sum(point.sales for point in group.points[-YEAR_QUARTERS:]) for group in groups]
    mean = sum(weight * log(one.factor) for weight, one in zip(weights, own, strict=True)) / sum(weights)
    moved = []
    for group, one in zip(groups, own, strict=True):
        factor = year.factor * one.factor / exp(mean)
        half = exp(hypot(log(year.high / year.factor), log(one.high / one.factor)))
        moved.append(replace(group, year=replace(year, factor=factor, low=factor / half, high=factor * half)))
    return tuple(moved)


def _too_few(groups: Mapping[str, str], names: list[str], plural: str) -> str:
    if not groups:
        return f"the market file names no {plural}"
    how_many = "only one" if names else "none"
    return f"{how_many} of the {len(set(groups.values()))} {plural} has {FEWEST_SALES} sales or more"


def _words(plural: str, groups: tuple[Group, ...]) -> str:
    apart = [group for group in groups if group.differs]
    if not apart:
        most = max(abs(group.difference.factor - 1) for group in groups)
        return (
            f"The {plural} moved with the market: none moved differently by more than chance explains "
            f"(the largest difference is {100 * most:.1f} %)."
        )
    named = ", ".join(f"{group.name} (×{group.difference.factor:.2f})" for group in apart)
    return f"Against the market as a whole, these {plural} moved differently: {named}."
