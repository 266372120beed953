"""Say what changed of the values of a list of pairs since an earlier day, and why."""

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import polars as pl
from babel.numbers import get_currency_precision
from numpy.typing import NDArray

from pipeline import __version__, formats
from pipeline.answers.appraisal.cautions import stale_cautions
from pipeline.answers.changed.answer import (
    MARKET,
    MARKET_FILE,
    NEW_SALES,
    PAIR,
    PARTS,
    PUT_RIGHT,
    Causes,
    Changed,
    in_money,
    logarithmic_mean,
    rounded,
    split_change,
    subsets,
)
from pipeline.answers.changed.moment import Moment, earlier_moment
from pipeline.answers.changed.records import SaleChanges, sale_changes
from pipeline.answers.stock.listed import has_stock, listed_pairs
from pipeline.answers.stock.run import records_here
from pipeline.config import Market, Model
from pipeline.errors import FitError
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.influence import influences
from pipeline.hedonic.predict import differences, log_prices_of_rows, predict
from pipeline.hedonic.rows import rows_by_term
from pipeline.hedonic.second_stage import UNUSED
from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.attributes import TITLES, factor_texts
from pipeline.market.bands import second_stage_of
from pipeline.market.fit import fit_market, fit_prices
from pipeline.market.fitted_market import FittedMarket, from_stored
from pipeline.market.model import FACTORS, pair_factors
from pipeline.market.pair import CLOSED
from pipeline.market.subject import pairs_of_records
from pipeline.schema import LISTS
from pipeline.untrusted import show_words
from pipeline.workspace import Workspace

Array = NDArray[np.float64]
OnProgress = Callable[[str, int, int], None]

MOST_SALES = 3
"""The most new sales that are named of a pair."""

MOST_TOGETHER = 10
"""The most new sales that are named of all pairs together."""

MOVED: dict[str, pl.DataType] = {
    "row_number": pl.Int64(),
    **dict.fromkeys(("stock_ref", "record_id", "sale"), pl.String()),
    "sold_on": pl.Date(),
    **dict.fromkeys(("price_paid", "moved", "share"), pl.Float64()),
}
"""The columns of `Changed.moved_by`."""

BLOCK = 256
"""So many pairs are compared with all new sales at a time."""


def explain_changes(
    workspace: Workspace,
    file: Path | None,
    *,
    since: date | None,
    earlier_list: Path | None,
    as_of: date,
    on_progress: OnProgress | None = None,
) -> Changed:
    """Return what changed of the values of a list of pairs since an earlier day (see `earlier_moment`).

    Without a `file` the pairs are the stock of the ledger. `earlier_list` is the list as it was then, its pairs known
    by their stock numbers; without it the ledger's list of then counts, and without that the pairs were as they are
    now. Pairs that were sold are left out. Raises FitError where there is nothing to compare with.
    """
    market, ledger = workspace.market, workspace.ledger
    moment = earlier_moment(ledger, since=since, as_of=as_of)
    earlier, latest = _fits(workspace, moment)
    records = records_here(workspace, file, as_of=as_of)
    before, cautions = _as_it_was(workspace, records, earlier_list, moment.day)
    pairs = {False: pairs_of_records(before), True: pairs_of_records(records)}
    then_factors = {side: pair_factors(found, as_of=moment.day) for side, found in pairs.items()}
    now_factors = pair_factors(pairs[True], as_of=as_of)
    differs = _differing(then_factors[False], then_factors[True])
    changes = sale_changes(
        ledger,
        earlier=moment.earlier.fit_number,
        later=moment.later.fit_number,
        run_id=moment.earlier.run_id,
        ruling_number=moment.earlier.ruling_number,
    )
    settings = _settings_changed(moment)
    causes = [cause for cause in (NEW_SALES, PUT_RIGHT, MARKET_FILE) if cause in changes.records]
    if "model" in settings and MARKET_FILE not in causes:
        causes.append(MARKET_FILE)
    refits = _Refits(moment, earlier, latest, changes, market, frozenset(causes))
    fits = refits.all(on_progress)
    shown = {PAIR} if differs.count() else set()
    with one_blas_thread():
        values = {
            chosen | described: _values(fits[chosen], then_factors[PAIR in described])
            for chosen in fits
            for described in subsets(shown)
        }
        said = _values(earlier, then_factors[False])
        now = _values(latest, now_factors)
        parts = split_change(values) | {MARKET: now - values[frozenset(causes) | shown]}
        parts[MARKET_FILE] = parts.get(MARKET_FILE, np.zeros(len(now))) + values[frozenset()] - said
        error = differences(latest.fit, then_factors[True], now_factors)["error"].to_numpy()
    none = np.zeros(len(now))
    first, last, split = in_money(said, now, np.column_stack([parts.get(part, none) for part in PARTS]))
    decimals = get_currency_precision(market.base_currency)
    found = rounded(
        records.select(
            "row_number",
            stock_ref=pl.coalesce("stock_ref", "lot_ref"),
            silhouette=pl.coalesce("silhouette", "title"),
            colourway="colourway",
            era="era",
            then=pl.Series(first, dtype=pl.Float64),
            now=pl.Series(last, dtype=pl.Float64),
            change=pl.Series(last - first, dtype=pl.Float64),
            share=pl.Series(last / first - 1, dtype=pl.Float64),
            **{part: pl.Series(split[:, number], dtype=pl.Float64) for number, part in enumerate(PARTS)},
            market_error=pl.Series(error * logarithmic_mean(said, now), dtype=pl.Float64),
            differs=differs,
        ),
        decimals,
    )
    moved_by, moved_together = _moved_by(latest, changes.new, found, now_factors, decimals)
    there = {MARKET, *causes, *shown} | ({MARKET_FILE} if earlier.version != __version__ else set())
    return Changed(
        since=moment.day,
        as_of=as_of,
        currency=market.base_currency,
        pairs=found,
        moved_by=moved_by,
        moved_together=moved_together,
        causes=tuple(part for part in PARTS if part in there),
        records=changes.records,
        settings=settings,
        cautions=(
            *(caution.words for caution in stale_cautions(workspace.stale)),
            *((moment.caution,) if moment.caution else ()),
            *cautions,
            *_guessed_then(earlier, latest, then_factors[True]),
            *_came_since(records, moment.day),
        ),
        earlier=earlier.source,
        source=latest.source,
    )


def _fits(workspace: Workspace, moment: Moment) -> tuple[FittedMarket, FittedMarket]:
    """Return the fit that held then and the latest; raises FitError where their values cannot be compared."""
    latest = workspace.fitted
    if latest.version != __version__:
        raise FitError(
            f"the latest fit was made by pairband {latest.version}, and this is {__version__}",
            "run `pairband fit` first.",
        )
    if moment.earlier.fit_id == latest.fit_id:
        return latest, latest
    stored = workspace.ledger.read("fits/stored_fit", fit_id=moment.earlier.fit_id).row(0)
    earlier = from_stored(*stored)
    if earlier.currency != latest.currency:
        raise FitError(
            f"values were in {earlier.currency} then, and are in {latest.currency} now",
            f"name a day since which they are in {latest.currency}, with --since.",
        )
    return earlier, latest


def _as_it_was(
    workspace: Workspace, records: pl.DataFrame, earlier_list: Path | None, day: date
) -> tuple[pl.DataFrame, tuple[str, ...]]:
    """Return the pairs as an earlier list has them, and what is to be said of that.

    It is the list named, else the latest in the ledger up to the earlier day; a pair that it does not have is as now.
    """
    if earlier_list is None and not has_stock(workspace, as_of=day):
        return records, (AS_NOW,)
    listed = listed_pairs(workspace, earlier_list, as_of=day)
    single = pl.col("stock_ref").is_not_null() & (pl.len().over("stock_ref") == 1)
    numbered = records.with_row_index("place")
    one = numbered.filter(single).select("place", "stock_ref", now_bought="bought_on")
    beside = one.join(listed.records.filter(single), on="stock_ref", how="inner")
    found = beside.filter((pl.col("bought_on") == pl.col("now_bought")).fill_null(value=True))
    others = numbered.filter(~pl.col("place").is_in(found["place"].implode()))
    both = (
        pl.concat([frame.select("place", *DESCRIBED) for frame in (found, others)])
        .sort("place")
        .drop("place")
    )
    there = others.filter((pl.col("bought_on") <= day).fill_null(value=True))
    return both, (*_as_now(there.height, earlier_list), *listed.notes)


AS_NOW = "The pairs are taken to have been then as they are now: --earlier FILE says how they were."
DESCRIBED: tuple[str, ...] = (
    *(
        "row_number",
        "lot_ref",
        "stock_ref",
        "title",
        "silhouette",
        "colourway",
        "era",
        "size_label",
        "size_system",
    ),
    *("foot_mm", "grade", *CLOSED, *LISTS, "size_assumed", "unread"),
)
"""The columns of a listed pair that say what it is."""


def _as_now(pairs: int, earlier_list: Path | None) -> tuple[str, ...]:
    if not pairs:
        return ()
    where = "the ledger's list of then" if earlier_list is None else show_words(earlier_list.name, 60)
    they = "it is" if pairs == 1 else "they are"
    return (f"{formats.counted(pairs, 'pair')} not in {where}: {they} taken to have been as now.",)


def _differing(before: pl.DataFrame, now: pl.DataFrame) -> pl.Series:
    """Return what of each pair is not as it was, in words, null where nothing is."""
    one, other = factor_texts(before), factor_texts(now)
    said = pl.DataFrame(
        {
            name: [
                None if was == is_now else f"{TITLES.get(name, name)} {was} → {is_now}"
                for was, is_now in zip(one[name], other[name], strict=True)
            ]
            for name in FACTORS
        },
        schema=dict.fromkeys(FACTORS, pl.String),
    )
    words = said.select(pl.concat_str(pl.all(), separator="; ", ignore_nulls=True)).to_series()
    return words.replace("", None)


def _settings_changed(moment: Moment) -> tuple[str, ...]:
    """Return what of the market file that decides a fit was otherwise at the earlier fit."""
    then, now = json.loads(moment.earlier.settings), json.loads(moment.later.settings)
    return tuple(name for name in now if then.get(name) != now[name])


class _Refits:
    """The fits to the sales of then with some of what changed since, and what pairs are worth by each."""

    def __init__(
        self,
        moment: Moment,
        earlier: FittedMarket,
        latest: FittedMarket,
        changes: SaleChanges,
        market: Market,
        causes: Causes,
    ) -> None:
        self._moment, self._changes, self._causes = moment, changes, causes
        self._earlier, self._latest = earlier, latest
        self._before, self._after = (
            market.model_copy(update={"model": Model.model_validate(json.loads(made.settings)["model"])})
            for made in (moment.earlier, moment.later)
        )

    def all(self, on_progress: OnProgress | None) -> dict[Causes, FittedMarket]:
        """Return the fit with each choice of the causes; the stored ones are not made again."""
        stored = {self._causes: self._latest}
        if self._causes and self._earlier.version == __version__:
            stored[frozenset()] = self._earlier
        wanted = subsets(self._causes)
        missing = [chosen for chosen in wanted if chosen not in stored]
        for done, chosen in enumerate(missing):
            if on_progress is not None:
                on_progress("fitting to the sales of then", done, len(missing))
            stored[chosen] = self._refit(chosen)
        return {chosen: stored[chosen] for chosen in wanted}

    def _refit(self, chosen: Causes) -> FittedMarket:
        sales = FrameSource(self._changes.with_causes(chosen))
        market = self._after if MARKET_FILE in chosen else self._before
        if any(
            stage.used
            for fitted in (self._earlier, self._latest)
            for stage in (fitted.second_stage, fitted.trend)
        ):
            return fit_market(
                sales, market, records_digest="", version=__version__, fitted_on=self._moment.earlier.day
            )
        return replace(
            self._latest, fit=fit_prices(sales, market, self._latest.found), second_stage=UNUSED, trees=None
        )


def _values(fitted: FittedMarket, factors: pl.DataFrame) -> Array:
    """Return the values of pairs (log price)."""
    by_term = rows_by_term(fitted.fit, factors)
    added, _ = second_stage_of(fitted, by_term, factors.height)
    return log_prices_of_rows(fitted.fit, by_term, factors.height) + added


def _moved_by(
    latest: FittedMarket, new: pl.DataFrame, pairs: pl.DataFrame, factors: pl.DataFrame, decimals: int
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Return the new sales that moved each pair's value most, and all values together (see `Changed`)."""
    if not new.height or not pairs.height:
        empty = pl.DataFrame(schema=MOVED)
        return empty, empty.drop("row_number", "stock_ref")
    sales = new.select(
        "record_id",
        sale=pl.concat_str("silhouette", "colourway", "era", separator=" ", ignore_nulls=True),
        sold_on="sold_on",
        price_paid="price_paid",
    )
    most = min(MOST_SALES, new.height)
    parts, whole = [], np.zeros(new.height)
    for start in range(0, pairs.height, BLOCK):
        some = pairs[start : start + BLOCK]
        with one_blas_thread():
            effect = influences(latest.fit, new, factors[start : start + BLOCK])
        worth = some["now"].to_numpy()[:, None]
        money = worth * -np.expm1(-effect)
        whole += money.sum(axis=0)
        first = np.argsort(-np.abs(effect), axis=1, kind="stable")[:, :most]
        owners = np.repeat(np.arange(some.height), most)
        parts.append(
            pl.concat(
                [some[owners].select("row_number", "stock_ref"), sales[first.ravel()]], how="horizontal"
            ).with_columns(
                moved=pl.Series(np.take_along_axis(money, first, axis=1).ravel()),
                share=pl.Series(np.expm1(np.take_along_axis(effect, first, axis=1)).ravel()),
            )
        )
    furthest = np.argsort(-np.abs(whole), kind="stable")[:MOST_TOGETHER]
    now = float(pairs["now"].sum())
    together = sales[furthest].with_columns(
        moved=pl.Series(whole[furthest]), share=pl.Series(whole[furthest] / (now - whole[furthest]))
    )
    rounding = pl.col("moved").round(decimals)
    return pl.concat(parts).select(*MOVED).with_columns(rounding), together.with_columns(rounding)


def _guessed_then(earlier: FittedMarket, latest: FittedMarket, factors: pl.DataFrame) -> tuple[str, ...]:
    """Return the caution on pairs of a silhouette or era of which the earlier fit knew no sale, and the latest does."""
    then, now = (predict(one.fit, factors)["unseen"] for one in (earlier, latest))
    terms = [*earlier.fit.specification.terms, *latest.fit.specification.terms]
    names = [term.name for term in terms if term.columns in (("silhouette",), ("era",))]
    pairs = int((then.list.set_difference(now).list.set_intersection(names).list.len() > 0).sum())
    if not pairs:
        return ()
    is_of = "is" if pairs == 1 else "are"
    return (
        f"{formats.counted(pairs, 'pair')} {is_of} of a silhouette or era of which no sale was in the fit then: the "
        "value then is a first guess.",
    )


def _came_since(records: pl.DataFrame, day: date) -> tuple[str, ...]:
    came = records.filter(pl.col("bought_on") > day).height
    if not came:
        return ()
    return (
        f"{formats.counted(came, 'pair')} came in after {formats.day(day)}: "
        f"{'it is' if came == 1 else 'they are'} valued on that day as if already there.",
    )
