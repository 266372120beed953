"""What happens to pairs between offers: unsold lots come back, bought pairs are restored and resold."""

import numpy as np
import polars as pl

from sample_data import scenario, truth
from sample_data.generator import on_sale_day
from sample_data.offers import add_terms, draw_offers, draw_open_listings
from sample_data.pairs import Draws, pick

OFFERS = 5200
OPEN_LISTINGS = 50
RESALES = 250
RE_OFFER_SHARE = 0.45
WITHDRAWN_SHARE = 0.08
OWN_SHARE = 0.08
"""The share of other offers at the venues that are the dealer's own, with their stock number."""

LOGGED_TWICE_SHARE = 0.3
"""The share of the dealer's own deals at the venues that stand in the counter's log as well."""

_PAIR = [
    "maker",
    "silhouette",
    "colourway",
    "era",
    "run",
    "overlay",
    "lasting",
    "production_year",
    "foot_mm",
    "grade",
    "box",
    "tags",
    "parts",
    "defects",
    "treatments",
    "factory",
    "stamp_month",
    "pair",
]


def draw_histories(*, seed: int) -> pl.DataFrame:
    """Return every offer of the scenario's nine years, one row an offer, ordered by its end.

    Columns: offer (its number), pair (the same for the same physical pair), re_offer_of and bought_as
    (offer numbers, or null), stock_ref (null where the dealer had no part in it), logged_twice (whether
    the counter's log has it as well as its venue), and those of `offers.add_terms`. Nothing is unknown,
    wrong or rounded yet.
    """
    draws = np.random.Generator(np.random.PCG64([seed, 1_000_003]))
    fresh = pl.concat(
        [draw_offers(OFFERS, draws), draw_open_listings(OPEN_LISTINGS, draws)], how="diagonal_relaxed"
    )
    fresh = add_stamps(fresh, draws).with_row_index("pair").with_row_index("offer")
    fresh = fresh.with_columns(
        status=pl.when(pl.col("status").eq("unsold") & pl.Series(draws.random(len(fresh)) < WITHDRAWN_SHARE))
        .then(pl.lit("withdrawn"))
        .otherwise("status")
    )
    again = _re_offer(fresh, draws).with_row_index("offer", offset=len(fresh))
    resold = _restore_and_resell(fresh, draws).with_row_index("offer", offset=len(fresh) + len(again))
    offers = pl.concat([fresh, again, resold], how="diagonal_relaxed")
    return _number_stock(offers, draws).sort(
        pl.col("closed_on").fill_null(scenario.LAST_DAY), "offer", maintain_order=True
    )


def restored(pairs: pl.DataFrame, draws: Draws, *, share: float) -> pl.DataFrame:
    """Return the pairs after restoration: treatments added, defects cured, the grade risen.

    `share` of them are worked on; each defect that a treatment cures is treated with one of those, and
    most get a deep clean besides. The gain in grade is the true one, give or take half a grade.
    """
    count = len(pairs)
    worked = draws.random(count) < share
    cleaned = pl.lit(pl.Series(worked & (draws.random(count) < 0.8)))
    swapped = pl.lit(pl.Series(draws.random(count) < 0.5))
    hit = pl.lit(pl.Series(worked))
    grading_error = pl.Series(np.array([-0.5, 0.0, 0.5])[pick([0.2, 0.6, 0.2], count, draws)])
    has = pl.col("defects").list.contains
    new = {
        "deep clean": cleaned,
        "reglue": hit & has("sole separation") & ~swapped,
        "de-yellowing": hit & has("yellowing"),
        "sole swap": hit & (has("sole separation") | has("heel wear")) & swapped,
        "repaint": hit & (has("sun fade") | has("cracked overlay")) & swapped,
    }
    flagged = pairs.with_columns(done.alias(f"new {name}") for name, done in new.items())
    gain = pl.sum_horizontal(pl.col(f"new {name}") * truth.GRADE_GAIN[name] for name in new)
    any_work = pl.any_horizontal(f"new {name}" for name in new)
    risen = (pl.col("grade") + (gain + pl.lit(grading_error)).clip(lower_bound=0.0)).clip(
        upper_bound=truth.RESTORED_GRADE_LIMIT
    )
    return flagged.with_columns(
        grade=pl.when(any_work).then(pl.max_horizontal("grade", risen)).otherwise("grade"),
        treatments=_listed(
            {name: pl.col("treatments").list.contains(name) | pl.col(f"new {name}") for name in new}
        ),
        defects=_listed({name: has(name) & ~_cured(name) for name in truth.DEFECTS}),
    ).drop(f"new {name}" for name in new)


def _cured(defect: str) -> pl.Expr:
    """Whether one of the new treatments cures the defect, by the market file."""
    cures = [one.name for one in scenario.market().treatments if defect in one.cures]
    return pl.any_horizontal(f"new {name}" for name in cures)


def _listed(flags: dict[str, pl.Expr]) -> pl.Expr:
    """Return the list of the names whose flag is set."""
    members = [pl.when(flag).then(pl.lit(name)) for name, flag in flags.items()]
    return pl.concat_list(members).list.drop_nulls()


def add_stamps(pairs: pl.DataFrame, draws: Draws) -> pl.DataFrame:
    """Add the factory code and the month in which the production window of the stamp begins (1 to 9)."""
    turn = pl.Series(draws.integers(0, 6, len(pairs)))
    codes = {
        f"{maker}{number}": factories[number % len(factories)]
        for maker, factories in scenario.FACTORIES.items()
        for number in range(6)
    }
    return pairs.with_columns(
        factory=pl.concat_str("maker", pl.lit(turn)).replace_strict(codes, return_dtype=pl.String),
        stamp_month=pl.Series(draws.integers(1, 10, len(pairs)), dtype=pl.Int32),
    )


def _re_offer(fresh: pl.DataFrame, draws: Draws) -> pl.DataFrame:
    """Return second offers of unsold pairs, at the same venue and on better terms for the buyer."""
    floor = pl.when(pl.col("offered_on").is_null()).then(-0.30).otherwise(0.0)
    unsold = fresh.filter(pl.col("status") == "unsold", pl.col("gap") > floor)
    unsold = unsold.filter(pl.Series(draws.random(len(unsold)) < RE_OFFER_SHARE))
    later = pl.Series(draws.integers(30, 150, len(unsold)))
    second = (
        unsold.with_columns(any_day=pl.col("closed_on") + pl.duration(days=pl.lit(later)))
        .with_columns(closed_on=on_sale_day("any_day"))
        .filter(pl.col("closed_on") <= scenario.LAST_DAY)
    )
    pairs = second.select("venue", "closed_on", *_PAIR, pl.col("offer").alias("re_offer_of"))
    return add_terms(pairs, draws, below=second["gap"] - 0.03)


def _restore_and_resell(fresh: pl.DataFrame, draws: Draws) -> pl.DataFrame:
    """Return the later sales of pairs that the dealer bought at a venue, most of them restored since."""
    bought = fresh.filter(
        pl.col("status") == "sold", pl.col("venue") != scenario.COUNTER, pl.col("grade") <= 8.5
    )
    bought = bought[np.sort(draws.permutation(len(bought))[:RESALES])]
    later = pl.Series(draws.integers(35, 400, len(bought)))
    shares = {scenario.COUNTER: 0.7, scenario.HOLM: 0.1, scenario.LANTERN: 0.1, scenario.UMIKAZE: 0.1}
    venues = pl.Series("venue", list(shares))[pick(list(shares.values()), len(bought), draws)]
    sold = (
        restored(bought, draws, share=0.75)
        .with_columns(venues, any_day=pl.col("closed_on") + pl.duration(days=pl.lit(later)))
        .with_columns(closed_on=on_sale_day("any_day"))
        .filter(pl.col("closed_on") <= scenario.LAST_DAY)
        .select("venue", "closed_on", *_PAIR, pl.col("offer").alias("bought_as"))
    )
    return add_terms(sold, draws, sold_only=True)


def _number_stock(offers: pl.DataFrame, draws: Draws) -> pl.DataFrame:
    """Add stock_ref, one a pair that passes through the dealer's hands, and logged_twice."""
    other = pl.Series(draws.random(len(offers)) < OWN_SHARE)
    handled = (pl.col("venue") == scenario.COUNTER) | pl.col("bought_as").is_not_null() | other
    own = (
        offers.filter(handled)
        .group_by("pair")
        .agg(first=pl.col("closed_on").fill_null(scenario.LAST_DAY).min())
        .sort("first", "pair")
        .with_row_index("number", offset=1)
    )
    own = own.with_columns(
        stock_ref=pl.concat_str(pl.lit("TP-"), pl.col("number").cast(pl.String).str.zfill(4))
    )
    numbered = offers.join(own.select("pair", "stock_ref"), on="pair", how="left", maintain_order="left")
    own_deal = (
        pl.col("stock_ref").is_not_null() & pl.col("status").eq("sold") & pl.col("venue").ne(scenario.COUNTER)
    )
    drawn = pl.lit(pl.Series(draws.random(len(offers)) < LOGGED_TWICE_SHARE))
    return numbered.with_columns(logged_twice=own_deal & drawn)
