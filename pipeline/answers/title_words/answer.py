"""Words of titles that the fields do not read, and what they are worth beyond what the fit explains."""

import json
from dataclasses import dataclass
from typing import Literal

import numpy as np
import polars as pl

from pipeline.answers.title_words.candidates import find_candidates
from pipeline.config import Market
from pipeline.errors import FitError
from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.percent import kennedy, kennedy_error
from pipeline.hedonic.residuals import residuals
from pipeline.hedonic.specification import Specification, Term
from pipeline.market.fitted_market import FittedMarket, Source

FALSE_SHARE = 0.05
"""The share of the words listed that may be there by chance (Benjamini & Hochberg 1995, JRSS B 57)."""

_TOLERANCE = 1e-5


@dataclass(frozen=True)
class WordValue:
    """What a word of titles is worth, everything else equal: a share of the price, its error, money at the median.

    `example` shows it among the known words near it in the latest title that says it, no whole title, which may name
    a person; `market_file` is the lines that make it a field.
    """

    word: str
    sales: int
    days: int
    venues: int
    share: float
    error: float
    money: float
    example: str
    market_file: str


@dataclass(frozen=True)
class TitleWords:
    """The words found, the most telling first, of how many `looked_at`, and why others were not looked at.

    `several_venues` says whether there were enough venues to know the style of a house; `stale` why the fit is not
    that of the records, "" where it is.
    """

    words: tuple[WordValue, ...]
    looked_at: int
    left_out: dict[str, int]
    several_venues: bool
    median_price: float
    currency: str
    stale: str
    source: Source


def find_words(fitted: FittedMarket, market: Market, sales: pl.DataFrame, *, stale: str = "") -> TitleWords:
    """Return the words of titles that move the price beyond what the fit explains.

    `sales` has the columns of sql/marts/priced_sales.sql, in which the fit was made; raises FitError where there are
    none. What a word does is estimated from the residuals, all words together.
    """
    if sales.is_empty():
        raise FitError(
            "there are no sales whose titles could be read", "ingest some, then run `pairband fit`."
        )
    found = find_candidates(sales, market)
    median = float(np.median(sales["price_paid"].to_numpy()))
    valued = _values(fitted.fit, sales, found.uses) if found.words.height else _NOTHING
    listed = valued.join(found.words, left_on="level", right_on="phrase", maintain_order="left")
    return TitleWords(
        tuple(
            WordValue(
                row["written"],
                row["sales"],
                row["days"],
                row["venues"],
                row["share"],
                row["share_error"],
                median * row["share"],
                row["example"],
                _lines(row["written"], row["share"]),
            )
            for row in listed.iter_rows(named=True)
        ),
        found.words.height,
        {reason: number for reason, number in found.left_out.items() if number},
        found.venues > 1,
        median,
        fitted.currency,
        stale,
        fitted.source,
    )


_NOTHING = pl.DataFrame(schema={"level": pl.String, "share": pl.Float64, "share_error": pl.Float64})


def _values(whole: Fit, sales: pl.DataFrame, uses: pl.DataFrame) -> pl.DataFrame:
    """Return level, share, share_error of the words that move the price, the most telling first.

    Which ones do is tested on effects that are not shrunk: one common variance for hundreds of words, most of which
    say nothing, would shrink the few that do. The effects of those are then shrunk among themselves.
    """
    from scipy.stats import false_discovery_control, t

    left = sales.select("record_id", residual=residuals(whole, sales)["residual"])
    tested = _fit(left, uses, "flags", whole)
    effects = tested.effects.filter(pl.col("term") == "words", pl.col("role") == "fitted")
    ratio = (effects["effect"] / effects["error"]).to_numpy()
    chances = false_discovery_control(2 * t.sf(np.abs(ratio), tested.residual_df)) if len(ratio) else ratio
    telling = effects.filter(pl.Series(chances <= FALSE_SHARE))
    if telling.is_empty():
        return _NOTHING
    shrunk = _fit(
        left, uses.filter(pl.col("phrase").is_in(telling["level"].implode())), "pooled", whole
    ).effects
    values = shrunk.filter(pl.col("term") == "words", pl.col("role") == "fitted")
    effect, variance = values["effect"].to_numpy(), values["error"].to_numpy() ** 2
    return (
        values.with_columns(
            pl.Series("share", kennedy(effect, variance)),
            pl.Series("share_error", kennedy_error(effect, variance)),
            _ratio=(pl.col("effect") / pl.col("error")).abs(),
        )
        .sort("_ratio", "level", descending=[True, False])
        .select("level", "share", "share_error")
    )


def _fit(left: pl.DataFrame, uses: pl.DataFrame, kind: Literal["flags", "pooled"], whole: Fit) -> Fit:
    """Return the fit of the residuals on words, each a flag, with the weights of the market's own fit."""
    flags = uses.group_by("record_id").agg(words=pl.col("phrase").sort())
    flagged = left.join(flags, on="record_id", how="left", maintain_order="left").with_columns(
        pl.col("words").fill_null([])
    )
    terms = (Term("words", kind, ("words",)),)
    return fit(flagged, Specification("residual", terms), robust=whole.robust, tolerance=_TOLERANCE)


def _lines(word: str, share: float) -> str:
    """Return lines of the market file that make a word a field: a part where it adds, a defect where it takes off."""
    return f"[[{'parts' if share > 0 else 'defects'}]]\nname = {json.dumps(word, ensure_ascii=False)}"
