"""The generator's truth: its names, its shape, and that drawn prices give it back."""

import json
from itertools import pairwise
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl
import pyarrow.parquet as pq
import pytest

from pipeline.schema import BOXES, OVERLAYS, TAGS
from pipeline.shipped import shipped
from sample_data import scenario, truth
from sample_data.generator import draw_sales, write_parquet
from sample_data.offers import add_terms, draw_offers
from sample_data.pairs import cells
from sample_data.prices import true_log_prices

PARTS, ROWS = 4, 25_000
REFERENCE_ERA = "second"
"""Every silhouette was made in it."""

Real = npt.NDArray[np.float64]


def test_the_truth_file_says_what_the_module_says() -> None:
    written = json.loads((shipped("sample_data") / "truth.json").read_text(encoding="utf-8"))

    assert written == truth.truth_document()


def test_the_truth_names_what_the_market_file_names() -> None:
    market = scenario.market()

    assert list(truth.SILHOUETTES) == [one.name for one in market.silhouettes]
    assert list(truth.ERAS) == [one.name for one in market.eras]
    assert set(truth.TREATMENTS) == {one.name for one in market.treatments}
    assert set(truth.DEFECTS) == {one.name for one in market.defects}
    assert set(truth.PARTS) == {one.name for one in market.parts}
    assert set(truth.VENUES) == {one.name for one in market.venues}


def test_every_value_that_the_generator_draws_is_allowed() -> None:
    sales = draw_sales(20_000, seed=5)

    assert set(sales["box"]) <= set(BOXES)
    assert set(sales["tags"]) <= set(TAGS)
    assert set(sales["overlay"]) <= set(OVERLAYS)


def test_a_better_grade_never_costs_less() -> None:
    assert all(low < high for low, high in pairwise(truth.GRADES.values()))


def test_buyers_take_more_off_a_restored_original() -> None:
    assert all(effect <= 0 for effect in truth.TREATMENTS_ON_ORIGINALS.values())
    assert min(truth.TREATMENTS_ON_ORIGINALS.values()) < -0.1


def test_the_same_seed_draws_the_same_sales() -> None:
    assert draw_sales(500, seed=9).equals(draw_sales(500, seed=9))


def test_another_part_of_the_same_seed_draws_other_sales() -> None:
    assert not draw_sales(500, seed=9).equals(draw_sales(500, seed=9, part=1))


def test_no_sale_asked_for_gives_no_sale() -> None:
    assert draw_sales(0, seed=9).is_empty()


def test_a_file_written_by_the_chunk_holds_the_parts_of_its_seed(tmp_path: Path) -> None:
    write_parquet(tmp_path / "sales.parquet", 250, seed=4, chunk=100)
    parts = [draw_sales(count, seed=4, part=part) for part, count in enumerate((100, 100, 50))]

    assert pl.read_parquet(tmp_path / "sales.parquet").equals(pl.concat(parts))
    assert pq.ParquetFile(tmp_path / "sales.parquet").num_row_groups == 3


@pytest.mark.parametrize("venue", list(scenario.AUCTION_WEEKDAY))
def test_an_auction_house_sells_on_its_weekday_only(venue: str) -> None:
    days = draw_sales(20_000, seed=2).filter(venue=venue)["sold_on"]

    assert set(days.dt.weekday()) == {scenario.AUCTION_WEEKDAY[venue]}


def test_no_pair_is_sold_before_it_was_made() -> None:
    sales = draw_sales(20_000, seed=2)

    assert (sales["production_year"] < sales["sold_on"].dt.year()).all()


def test_least_squares_on_a_big_draw_gives_every_true_effect_back() -> None:
    names, estimate, error = _fit()
    known = _true_effects()
    off = (estimate - np.array([known[name] for name in names])) / error

    assert len(names) == len(known)
    assert {name: value for name, value in zip(names, off, strict=True) if abs(value) > 4} == {}


def test_what_was_sold_has_the_true_residuals_though_high_asks_fail() -> None:
    sold = draw_offers(40_000, np.random.Generator(np.random.PCG64(8))).filter(status="sold")
    residual = np.log(sold["price_paid"].to_numpy()) - true_log_prices(sold, day="closed_on").to_numpy()

    assert abs(residual.mean()) < 4 * residual.std() / len(sold) ** 0.5


def test_lots_sell_as_often_as_the_truth_says() -> None:
    lots = draw_offers(40_000, np.random.Generator(np.random.PCG64(8))).filter(pl.col("offered_on").is_null())
    chance = 1 / (1 + np.exp(-(truth.AUCTIONS.at_fair + truth.AUCTIONS.slope * lots["gap"].to_numpy())))
    surprise = (lots["status"] == "sold").to_numpy() - chance

    assert abs(surprise.sum()) < 4 * np.sqrt((chance * (1 - chance)).sum())
    assert abs((surprise * lots["gap"].to_numpy()).sum()) < 4 * np.sqrt((chance * (1 - chance)).sum())


def test_listings_sell_with_the_hazard_that_the_truth_says() -> None:
    listed = draw_offers(40_000, np.random.Generator(np.random.PCG64(8))).filter(
        pl.col("offered_on").is_not_null(), pl.col("gap") < 1
    )
    hazard = truth.LISTINGS.daily_at_fair * np.exp(truth.LISTINGS.slope * listed["gap"].to_numpy())
    sold = (listed["status"] == "sold").to_numpy()
    exposure = listed["waited"].to_numpy() - 0.5 * sold

    assert sold.sum() == pytest.approx((hazard * exposure).sum(), abs=4 * np.sqrt(sold.sum()))


def test_a_sold_only_draw_leaves_nothing_unsold() -> None:
    draws = np.random.Generator(np.random.PCG64(8))
    pairs = draw_sales(300, seed=3).drop("price_paid").rename({"sold_on": "closed_on"})

    assert set(add_terms(pairs, draws, sold_only=True)["status"]) == {"sold"}


def _fit() -> tuple[list[str], Real, Real]:
    """Return names, estimates and standard errors: least squares, each row over its residual's scale."""
    known = _true_effects()
    cross = np.zeros((len(known), len(known)))
    moment = np.zeros(len(known))
    for part in range(PARTS):
        sales = draw_sales(ROWS, seed=31, part=part)
        scale = np.zeros(ROWS)
        for low, value in sorted(truth.SCALES.items()):
            scale = np.where(sales["grade"].to_numpy() >= low, value, scale)
        design = _design(sales, list(known)) / scale[:, None]
        cross += design.T @ design
        moment += design.T @ (np.log(sales["price_paid"].to_numpy()) / scale)
    inverse = np.linalg.inv(cross)
    variance_of_t = truth.DEGREES_OF_FREEDOM / (truth.DEGREES_OF_FREEDOM - 2)
    return list(known), inverse @ moment, np.sqrt(variance_of_t * np.diag(inverse))


def _design(sales: pl.DataFrame, names: list[str]) -> Real:
    """Return one column of zeros and ones for each named effect."""
    keyed = sales.with_columns(
        pl.concat_str("silhouette", pl.lit("/"), "colourway").alias("colourway"),
        pl.concat_str("silhouette", pl.lit("/"), "era").alias("era"),
        pl.col("grade", "foot_mm").cast(pl.String),
        pl.col("sold_on").dt.strftime("%Y-%m").alias("month"),
        original=pl.col("run") == "original",
    )
    columns = []
    for name in names:
        factor, _, level = name.partition("=")
        if factor in ("parts", "defects", "treatments"):
            columns.append(pl.col(factor).list.contains(level))
        elif factor == "originals":
            columns.append(pl.col("treatments").list.contains(level) & pl.col("original"))
        else:
            columns.append(pl.col(factor) == level)
    return keyed.select(
        column.cast(pl.Float64).alias(str(at)) for at, column in enumerate(columns)
    ).to_numpy()


def _true_effects() -> dict[str, float]:
    """Return the effects that the design identifies, by "factor=level", against the references left out."""
    eras = list(truth.ERAS)
    sums = {(row["silhouette"], row["colourway"], row["era"]): row["effect"] for row in cells().to_dicts()}
    known: dict[str, float] = {}
    for name, one in truth.SILHOUETTES.items():
        usual, *others = (
            colourway.name for colourway in scenario.market().silhouette_by_name[name].colourways
        )
        start = sums[name, usual, REFERENCE_ERA]
        known[f"silhouette={name}"] = truth.BASE + start
        known |= {f"colourway={name}/{other}": sums[name, other, REFERENCE_ERA] - start for other in others}
        made = [era for era, crossed in zip(eras, one.by_era, strict=True) if crossed is not None]
        known |= {f"era={name}/{era}": sums[name, usual, era] - start for era in made if era != REFERENCE_ERA}
    known |= {f"foot_mm={level}": effect for level, effect in truth.FOOT_MM.items() if level != 270}
    known |= {f"grade={level}": effect for level, effect in truth.GRADES.items() if level != 8.0}
    known |= {f"box={value}": effect for value, effect in truth.BOX.items() if value != "none"}
    known |= {f"tags={value}": effect for value, effect in truth.TAGS.items() if value != "none"}
    known |= {f"parts={value}": effect for value, effect in truth.PARTS.items()}
    known |= {f"defects={value}": effect for value, effect in truth.DEFECTS.items()}
    known |= {f"treatments={value}": effect for value, effect in truth.TREATMENTS.items()}
    known |= {f"originals={value}": effect for value, effect in truth.TREATMENTS_ON_ORIGINALS.items()}
    known |= {f"venue={name}": effect for name, effect in truth.VENUES.items() if name != scenario.HOLM}
    months = pl.date_range(scenario.FIRST_DAY, scenario.LAST_DAY, "1mo", eager=True).dt.strftime("%Y-%m")
    known |= {
        f"month={month}": level for month, level in zip(months[1:], truth.MONTH_LEVELS[1:], strict=True)
    }
    return known
