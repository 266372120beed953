"""Draw pairs: what each is, in which condition, and what comes with it. Whole columns at a time."""

from collections.abc import Sequence
from functools import cache

import numpy as np
import numpy.typing as npt
import polars as pl

from sample_data import scenario, truth

Draws = np.random.Generator
IntArray = npt.NDArray[np.int64]
FlagArray = npt.NDArray[np.bool_]
RealArray = npt.NDArray[np.float64]

GRADE_CENTRES: dict[str, float] = {"first": 5.9, "second": 6.4, "early reissue": 7.3, "late reissue": 8.3}
GRADE_SPREAD = 1.5
LOWEST_GRADE, HIGHEST_GRADE = 2.0, 10.0

DEFECT_SHARES: dict[str, dict[str, float]] = {
    "original": {
        "cracked overlay": 0.16,
        "yellowing": 0.24,
        "sole separation": 0.11,
        "heel wear": 0.26,
        "sun fade": 0.09,
    },
    "re-issue": {
        "cracked overlay": 0.03,
        "yellowing": 0.12,
        "sole separation": 0.04,
        "heel wear": 0.22,
        "sun fade": 0.04,
    },
}
"""By run: the share of pairs of grade 6 that have the defect; fewer above, more below."""

CRACKING: dict[str, float] = {"leather": 0.7, "vinyl": 1.7, "textile": 0.1}
"""By overlay: how many times the usual share of pairs have a cracked overlay."""

TREATMENT_SHARES: dict[str, dict[str, float]] = {
    "original": {
        "deep clean": 0.16,
        "reglue": 0.06,
        "de-yellowing": 0.06,
        "sole swap": 0.05,
        "repaint": 0.05,
    },
    "re-issue": {
        "deep clean": 0.12,
        "reglue": 0.03,
        "de-yellowing": 0.04,
        "sole swap": 0.02,
        "repaint": 0.025,
    },
}
"""By run: the share of pairs up to grade 9 to which it was done before they were offered."""

PART_SHARES: dict[str, float] = {"spare laces": 0.16, "booklet": 0.08, "dust bag": 0.06}
"""The share of pairs with their original box that have the part; a fifth of it without."""


def pick(shares: Sequence[float], count: int, draws: Draws) -> IntArray:
    """Return `count` positions drawn with probabilities in proportion to `shares`."""
    edges = np.cumsum(np.asarray(shares, dtype=np.float64))
    positions = np.searchsorted(edges, draws.random(count) * edges[-1], side="right")
    return np.asarray(np.minimum(positions, len(shares) - 1))


@cache
def cells() -> pl.DataFrame:
    """Return one row a colourway of a silhouette in an era, with its share of sales and its effect.

    `effect` is the sum of the effects of silhouette, colourway, era and era × silhouette on log price.
    Colourways follow Zipf's law: the second sells half as often as the first, the third a third.
    """
    market = scenario.market()
    rows = [
        {
            "maker": silhouette.maker,
            "silhouette": silhouette.name,
            "colourway": colourway.name,
            "era": era.name,
            "run": era.run,
            "overlay": scenario.BUILDS[silhouette.name].overlay,
            "lasting": scenario.BUILDS[silhouette.name].lasting,
            "first_year": era.first_year,
            "last_year": era.last_year or scenario.LAST_PRODUCTION_YEAR,
            "share": known.share * scenario.ERA_SHARES[era.name] / (rank + 1),
            "effect": known.effect + known.colourways[rank] + truth.ERAS[era.name] + crossed,
        }
        for silhouette in market.silhouettes
        for known in [truth.SILHOUETTES[silhouette.name]]
        for rank, colourway in enumerate(silhouette.colourways)
        for era, crossed in zip(market.eras, known.by_era, strict=True)
        if crossed is not None
    ]
    return pl.DataFrame(rows)


def draw_pairs(days: pl.Series, draws: Draws) -> pl.DataFrame:
    """Return one pair for each day on which one is offered.

    Columns: maker, silhouette, colourway, era, run, overlay, lasting, production_year, foot_mm (on the
    5 mm axis), grade, box, tags, and the lists parts, defects and treatments (empty = none).
    """
    count = len(days)
    chosen = cells()[pick(cells()["share"].to_list(), count, draws)]
    first_year = chosen["first_year"].to_numpy()
    last_year = np.minimum(chosen["last_year"].to_numpy(), days.dt.year().to_numpy() - 1)
    years = first_year + np.floor(draws.random(count) * (last_year - first_year + 1)).astype(np.int32)
    original = (chosen["run"] == "original").to_numpy()

    centres = chosen["era"].replace_strict(GRADE_CENTRES, return_dtype=pl.Float64).to_numpy()
    wear = centres + GRADE_SPREAD * draws.standard_normal(count)
    grades = np.clip(np.round(wear * 2) / 2, LOWEST_GRADE, HIGHEST_GRADE)

    boxed = draws.random(count) < 1 / (1 + np.exp(-(grades - 8.2 + 0.8 * ~original)))
    box = np.where(boxed, 0, np.where(draws.random(count) < 0.09, 1, 2))
    tag_draw = draws.random(count)
    attached = tag_draw < np.where(grades >= 9, 0.45, 0.03)
    loose = ~attached & (tag_draw < np.where(grades >= 9, 0.60, 0.09))
    tags = np.where(attached, 0, np.where(loose, 1, 2))
    has_part = [draws.random(count) < share * np.where(boxed, 1.0, 0.2) for share in PART_SHARES.values()]
    cracking = chosen["overlay"].replace_strict(CRACKING, return_dtype=pl.Float64).to_numpy()
    done, wrong = _draw_work(original, grades, cracking, draws)

    sizes = list(scenario.FOOT_MM_SHARES)
    positions = pick(list(scenario.FOOT_MM_SHARES.values()), count, draws)
    return chosen.drop("first_year", "last_year", "share", "effect").with_columns(
        pl.Series("production_year", years, dtype=pl.Int32),
        pl.Series("foot_mm", sizes, dtype=pl.Int32)[positions],
        pl.Series("grade", grades),
        pl.Series("box", list(truth.BOX))[box],
        pl.Series("tags", list(truth.TAGS))[tags],
        _lists("parts", list(PART_SHARES), has_part),
        _lists("defects", list(wrong), list(wrong.values())),
        _lists("treatments", list(done), list(done.values())),
    )


def _draw_work(
    original: FlagArray, grades: RealArray, cracking: RealArray, draws: Draws
) -> tuple[dict[str, FlagArray], dict[str, FlagArray]]:
    """Return which treatments were done and which defects are left, each name → one flag a pair."""
    count = len(grades)

    def share(shares: dict[str, dict[str, float]], name: str) -> RealArray:
        return np.where(original, shares["original"][name], shares["re-issue"][name])

    severity = np.clip((10.0 - grades) / 4.0, 0.0, 1.8)
    done = {
        name: (draws.random(count) < share(TREATMENT_SHARES, name)) & (grades <= truth.RESTORED_GRADE_LIMIT)
        for name in TREATMENT_SHARES["original"]
    }
    wrong = {
        name: draws.random(count)
        < share(DEFECT_SHARES, name) * severity * (cracking if name == "cracked overlay" else 1.0)
        for name in DEFECT_SHARES["original"]
    }
    for treatment in scenario.market().treatments:
        for cured in treatment.cures:
            wrong[cured] &= ~done[treatment.name]
    return done, wrong


def _lists(name: str, members: list[str], flags: list[FlagArray]) -> pl.Series:
    """Return one list a row: the members whose flag is set, in the order given."""
    codes = np.zeros(len(flags[0]), dtype=np.uint8)
    for bit, flag in enumerate(flags):
        codes |= flag.astype(np.uint8) << bit
    subsets = [
        [member for bit, member in enumerate(members) if code >> bit & 1] for code in range(2 ** len(members))
    ]
    return pl.Series(name, subsets, dtype=pl.List(pl.String))[codes]
