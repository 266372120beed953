"""What each attribute is worth, everything else equal, and whether that moved between two halves of the records."""

from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import polars as pl

from pipeline.errors import FitError
from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.percent import kennedy, kennedy_error
from pipeline.hedonic.specification import Specification, Term
from pipeline.market.attributes import ORDER, SINGULAR, TITLES
from pipeline.schema import UNKNOWN

FEWEST_SALES = 30
"""Sales of a value (and of the one it is compared with) that each half needs, to say whether it moved."""

FALSE_SHARE = 0.1
"""The share of the moves reported that may be chance (Benjamini & Hochberg 1995, JRSS B 57)."""

_LEFT_OUT = ("colourway", "month")
_FIT_TOLERANCE = 1e-4
_SCHEMA = {
    "term": pl.String,
    "level": pl.String,
    "against": pl.String,
    "effect": pl.Float64,
    "variance": pl.Float64,
    "rows": pl.Int64,
    "against_rows": pl.Int64,
}


@dataclass(frozen=True)
class Estimate:
    """An effect as a share of the price (0.12: twelve per cent more), its standard error, and its sales.

    Kennedy's (1981) estimate of the percentage effect, with van Garderen & Shah's (2002) error.
    """

    share: float
    error: float
    sales: int


@dataclass(frozen=True)
class AttributeValue:
    """What one value of an attribute does to the price, against another value of it.

    `against` is "" for what a pair may have several of (defects, treatments, parts): against not having
    it. `effect` rests on all the records; `earlier` and `later` on the two halves (None where a half has
    too few sales). `chance` is the chance of so large a move if there were none, corrected for the number
    of values looked at; `moved` says whether the records show one.
    """

    attribute: str
    value: str
    against: str
    effect: Estimate
    earlier: Estimate | None
    later: Estimate | None
    chance: float | None
    moved: bool


@dataclass(frozen=True)
class Halves:
    """How the records were halved: sales and last day of the earlier, first day of the later.

    `why_not` says why there are no halves ("" where there are).
    """

    earlier: int
    later: int
    earlier_to: date | None
    later_from: date | None
    why_not: str


def attribute_values(whole: Fit, sales: pl.DataFrame) -> tuple[tuple[AttributeValue, ...], Halves]:
    """Return what each value of each attribute is worth, and how the records were halved.

    `sales` has the columns of sql/marts/priced_sales.sql; `whole` is the fit to them. Main effects only:
    an interaction (grade in era, say) is in the model but not here. Each half is fitted by itself, with
    the same terms compared with the same values.
    """
    found = _effects(whole, {})
    compared = found.filter(pl.col("against") != "").select("term", "against").unique(maintain_order=True)
    against = dict(compared.iter_rows())
    halves, fits = _halve(whole, sales, against)
    joined = found
    for name, half in zip(("earlier", "later"), fits, strict=False):
        own = _effects(half, against).select("term", "level", "effect", "variance", "rows", "against_rows")
        joined = joined.join(own, on=["term", "level"], how="left", suffix=f"_{name}", maintain_order="left")
    return _values(whole, joined, compared=len(fits) == 2), halves


def _single_terms(whole: Fit) -> list[Term]:
    """Return the terms of one attribute each, in the order in which a reader meets them."""
    terms = [
        factor.term
        for factor in whole.design.factors
        if len(factor.term.columns) == 1
        and factor.term.columns[0] in ORDER
        and factor.term.columns[0] not in _LEFT_OUT
        and factor.term.kind not in ("walk", "linear")
    ]
    return sorted(terms, key=lambda term: ORDER.index(term.columns[0]))


def _effects(fitted: Fit, against: dict[str, str]) -> pl.DataFrame:
    """Return one row a value: effect and variance in log price against the term's other value.

    A value is compared with `against` where it names one, else the term's reference, else (a pooled
    term) the value most sold; flags against their absence.
    """
    parts = [pl.DataFrame(schema=_SCHEMA)]
    for term in _single_terms(fitted):
        levels = fitted.effects.filter((pl.col("term") == term.name) & (pl.col("role") != "left out"))
        flags = term.columns[0] in SINGULAR
        reference = "" if flags else against.get(term.name) or _reference(levels)
        if not flags and reference not in levels["level"].to_list():
            continue
        places = levels["position"].fill_null(len(fitted.coefficients)).to_numpy()
        base = len(fitted.coefficients) if flags else int(places[levels["level"].to_list().index(reference)])
        steps = np.stack([places, np.full(len(places), base)], axis=1)
        variance = fitted.covariance.quadratic(steps, np.tile([1.0, -1.0], (len(places), 1)))
        effects = np.append(fitted.coefficients, 0.0)
        base_rows = None if flags else int(levels.filter(pl.col("level") == reference)["rows"][0])
        parts.append(
            levels.select(
                "term",
                "level",
                pl.lit(reference).alias("against"),
                pl.Series("effect", effects[places] - effects[base]),
                pl.Series("variance", np.maximum(variance, 0.0)),
                "rows",
                pl.lit(base_rows, dtype=pl.Int64).alias("against_rows"),
            ).filter(flags | (pl.col("level") != reference))
        )
    return pl.concat(parts)


def _reference(levels: pl.DataFrame) -> str:
    """Return the value that the others are compared with: the reference, or the known one most sold."""
    known = levels.filter(pl.col("level") != UNKNOWN).sort("rows", "level", descending=[True, False])
    first = known.filter(pl.col("role") == "reference").head(1)
    chosen = first if first.height else known
    return str(chosen["level"][0]) if chosen.height else ""


def _halve(whole: Fit, sales: pl.DataFrame, against: dict[str, str]) -> tuple[Halves, list[Fit]]:
    """Fit each half of the records, split at a day, with the references of the whole."""
    ordered = sales.sort("sold_on", "record_id")
    if ordered.height < 2 * FEWEST_SALES:
        return Halves(0, 0, None, None, f"{ordered.height} sales are too few to be halved."), []
    day = ordered["sold_on"][ordered.height // 2]
    earlier, later = ordered.filter(pl.col("sold_on") < day), ordered.filter(pl.col("sold_on") >= day)
    terms = tuple(
        replace(term, reference=against[term.name])
        if term.name in against and term.kind in ("level", "curve")
        else term
        for term in whole.specification.terms
    )
    halved = Specification(whole.specification.response, terms)
    try:
        fits = [fit(half, halved, robust=whole.robust, tolerance=_FIT_TOLERANCE) for half in (earlier, later)]
    except FitError as exc:
        return Halves(
            0, 0, None, None, f"The halves of the records are too thin for the model: {exc.what}."
        ), []
    return Halves(earlier.height, later.height, earlier["sold_on"][-1], day, ""), fits


def _values(whole: Fit, joined: pl.DataFrame, *, compared: bool) -> tuple[AttributeValue, ...]:
    columns = {term.name: term.columns[0] for term in _single_terms(whole)}
    chances = _chances(joined) if compared else [None] * joined.height
    rows = list(joined.iter_rows(named=True))
    return tuple(
        AttributeValue(
            _title(columns[row["term"]]),
            _value(columns[row["term"]], row["level"]),
            _value(columns[row["term"]], row["against"]) if row["against"] else "",
            _estimate(row["effect"], row["variance"], row["rows"]),
            _half(row, "earlier") if compared else None,
            _half(row, "later") if compared else None,
            chance,
            chance is not None and chance <= FALSE_SHARE,
        )
        for row, chance in zip(rows, chances, strict=True)
    )


def _chances(joined: pl.DataFrame) -> list[float | None]:
    """Return the corrected chance of each value's move between the halves; null where it is not known."""
    from scipy.stats import norm
    from statsmodels.stats.multitest import multipletests

    comparable = pl.all_horizontal(
        pl.col(f"{counted}_{half}").fill_null(FEWEST_SALES if counted == "against_rows" else 0)
        >= FEWEST_SALES
        for half in ("earlier", "later")
        for counted in ("rows", "against_rows")
    ) & (pl.col("level") != UNKNOWN)
    moves = joined.select(
        comparable.alias("comparable"),
        (pl.col("effect_later") - pl.col("effect_earlier")).alias("move"),
        (pl.col("variance_later") + pl.col("variance_earlier")).sqrt().alias("error"),
    ).with_columns(pl.col("comparable") & (pl.col("error") > 0))
    kept = moves.filter(pl.col("comparable"))
    chances: list[float | None] = [None] * joined.height
    if kept.is_empty():
        return chances
    single = 2 * norm.sf(np.abs((kept["move"] / kept["error"]).to_numpy()))
    corrected = multipletests(single, method="fdr_bh")[1]
    for place, chance in zip(moves["comparable"].arg_true(), corrected, strict=True):
        chances[place] = float(chance)
    return chances


def _half(row: dict[str, float | int | str | None], half: str) -> Estimate | None:
    effect, variance, sales = (row[f"{name}_{half}"] for name in ("effect", "variance", "rows"))
    if not (isinstance(effect, float) and isinstance(variance, float) and isinstance(sales, int)):
        return None
    return _estimate(effect, variance, sales) if sales >= FEWEST_SALES else None


def _estimate(effect: float, variance: float, sales: int) -> Estimate:
    return Estimate(float(kennedy(effect, variance)), float(kennedy_error(effect, variance)), sales)


def _title(column: str) -> str:
    return SINGULAR.get(column) or TITLES.get(column) or column


def _value(column: str, level: str) -> str:
    return f"{level} mm" if column == "size_mm" and level != UNKNOWN else level
