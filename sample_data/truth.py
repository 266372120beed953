"""The truth behind the demo's prices: every effect on log price, as frozen data.

log(all-in price in EUR) = BASE + silhouette + colourway in silhouette + era + era × silhouette
+ foot length + grade + box + tags + parts + defects + treatments (× run) + venue + month + residual,
the residual Student-t with DEGREES_OF_FREEDOM degrees of freedom and a scale that depends on the grade.
"""

import json
from dataclasses import dataclass
from itertools import accumulate

from sample_data import scenario
from sample_data.scenario import COUNTER, HOLM, LANTERN, UMIKAZE

BASE = 4.75
"""Log price in EUR of the reference pair: every effect below is zero for it."""


@dataclass(frozen=True)
class SilhouetteTruth:
    """The effects of one silhouette, and how often it is sold.

    `colourways` are in the order of the market file (the most usual first), `by_era` in the order of
    its eras; None stands for an era in which the silhouette was not made.
    """

    share: float
    effect: float
    colourways: tuple[float, ...]
    by_era: tuple[float | None, ...]


SILHOUETTES: dict[str, SilhouetteTruth] = {
    "Gannet Hi": SilhouetteTruth(
        1.00, 0.46, (0.00, 0.06, -0.05, 0.09, -0.14, 0.03, 0.21, 0.34, -0.22), (0.12, 0.05, -0.02, -0.08)
    ),
    "Plover Lo": SilhouetteTruth(
        0.62, 0.18, (0.00, 0.04, -0.08, 0.13, -0.11, 0.24, -0.19), (0.00, -0.03, 0.04, 0.02)
    ),
    "Gannet Lo": SilhouetteTruth(
        0.50, 0.22, (0.00, 0.08, 0.02, -0.07, 0.15, 0.27), (0.06, 0.02, -0.05, -0.02)
    ),
    "Skua Hi": SilhouetteTruth(
        0.42, 0.05, (0.00, 0.11, -0.04, 0.07, -0.16, 0.19, -0.09), (0.03, 0.10, None, -0.06)
    ),
    "Sanderling": SilhouetteTruth(
        0.37, -0.04, (0.00, 0.12, -0.06, 0.03, 0.17, -0.13, 0.25, -0.21), (-0.08, 0.02, 0.06, 0.00)
    ),
    "Petrel Mid": SilhouetteTruth(0.33, -0.12, (0.00, -0.05, 0.14, 0.06, -0.17), (0.05, -0.04, 0.00, None)),
    "Dunlin": SilhouetteTruth(0.29, -0.20, (0.00, 0.03, 0.10, -0.09, 0.18, -0.12), (None, 0.07, -0.03, 0.02)),
    "Turnstone": SilhouetteTruth(
        0.26, 0.31, (0.00, 0.05, -0.10, 0.16, 0.28, -0.06), (0.10, 0.03, -0.07, -0.05)
    ),
    "Cormorant": SilhouetteTruth(
        0.24, 0.09, (0.00, 0.07, -0.03, 0.12, -0.15, 0.22, -0.08), (-0.04, 0.00, 0.05, 0.03)
    ),
    "Whimbrel": SilhouetteTruth(0.22, -0.27, (0.00, -0.06, 0.09, 0.20, -0.12), (0.02, -0.05, None, 0.04)),
    "Fulmar": SilhouetteTruth(0.20, -0.33, (0.00, 0.05, -0.08, 0.11), (None, -0.02, 0.03, 0.00)),
    "Guillemot": SilhouetteTruth(0.18, -0.08, (0.00, 0.10, -0.05, 0.17, -0.14), (0.07, 0.04, -0.06, None)),
    "Eider": SilhouetteTruth(0.16, 0.38, (0.00, 0.09, -0.11, 0.15, 0.26), (0.09, -0.03, None, None)),
    "Razorbill": SilhouetteTruth(0.15, -0.16, (0.00, -0.07, 0.13, 0.21), (None, 0.06, 0.02, -0.04)),
}

ERAS: dict[str, float] = {"first": 0.62, "second": 0.36, "early reissue": 0.0, "late reissue": -0.24}

FOOT_MM: dict[int, float] = {
    240: -0.150,
    245: -0.115,
    250: -0.085,
    255: -0.055,
    260: -0.030,
    265: -0.010,
    270: 0.0,
    275: 0.0,
    280: -0.015,
    285: -0.035,
    290: -0.065,
    295: -0.100,
    300: -0.140,
    305: -0.185,
}
"""By foot length in mm, on the 5 mm axis: the sizes that most buyers wear bring the most."""

GRADES: dict[float, float] = {
    2.0: -1.30,
    2.5: -1.17,
    3.0: -1.04,
    3.5: -0.92,
    4.0: -0.81,
    4.5: -0.70,
    5.0: -0.60,
    5.5: -0.50,
    6.0: -0.40,
    6.5: -0.31,
    7.0: -0.21,
    7.5: -0.11,
    8.0: 0.0,
    8.5: 0.12,
    9.0: 0.26,
    9.5: 0.41,
    10.0: 0.62,
}
"""By grade; the scenario sells nothing below grade 2."""

BOX: dict[str, float] = {"original": 0.16, "replacement": 0.04, "none": 0.0}
TAGS: dict[str, float] = {"attached": 0.11, "loose": 0.05, "none": 0.0}
PARTS: dict[str, float] = {"spare laces": 0.03, "booklet": 0.05, "dust bag": 0.04}

DEFECTS: dict[str, float] = {
    "cracked overlay": -0.17,
    "yellowing": -0.08,
    "sole separation": -0.22,
    "heel wear": -0.06,
    "sun fade": -0.11,
}

TREATMENTS: dict[str, float] = {
    "deep clean": -0.015,
    "reglue": -0.06,
    "de-yellowing": -0.05,
    "sole swap": -0.16,
    "repaint": -0.19,
}
"""At a fixed grade: what buyers take off for the knowledge that it was done."""

TREATMENTS_ON_ORIGINALS: dict[str, float] = {
    "deep clean": 0.0,
    "reglue": -0.02,
    "de-yellowing": -0.03,
    "sole swap": -0.09,
    "repaint": -0.13,
}
"""What they take off besides on a pair of an original run."""

GRADE_GAIN: dict[str, float] = {
    "deep clean": 0.5,
    "reglue": 0.5,
    "de-yellowing": 0.5,
    "sole swap": 1.5,
    "repaint": 1.0,
}
"""By how much a treatment raises the grade on average, in grades; at most to RESTORED_GRADE_LIMIT."""

RESTORED_GRADE_LIMIT = 9.0

VENUES: dict[str, float] = {HOLM: 0.0, LANTERN: 0.07, UMIKAZE: -0.09, COUNTER: 0.13}

# fmt: off
MONTH_STEPS: tuple[int, ...] = (
    0, 8, 17, -4, -16, 2, 10, 18, -14, -15, 13, 10,
    24, 17, 2, -1, 39, -1, -8, -13, 4, 5, -2, 2,
    7, 13, 18, 6, -22, 13, -17, 1, -18, 17, 6, 20,
    63, 16, 29, -2, 13, 26, 16, 22, 18, 3, 25, 6,
    43, -4, 13, 3, 16, -45, -23, -39, -19, -28, -35, -48,
    -26, -30, 26, -2, 11, 10, 7, 6, 6, -5, -11, -3,
    11, 24, 17, 18, 14, 13, 6, 14, 28, -2, -7, 30,
    6, 17, 15, -13, 37, 28, 5, 14, 5, -9, 1, 8,
    19, 13, 4, 22, -8, 14, 19, -1, -22, -10, 6, 10,
)
# fmt: on
"""The steps of the monthly level in thousandths of log price, 2017-10 first: a random walk with a
drift, a boom from 2020-07 and a bust from 2022-03 to 2022-11."""

MONTH_LEVELS: tuple[float, ...] = tuple(level / 1000 for level in accumulate(MONTH_STEPS))

DEGREES_OF_FREEDOM = 5.0
SCALES: dict[float, float] = {2.0: 0.26, 6.0: 0.20, 8.0: 0.16}
"""Scale of the residual from each grade upwards (of the Student-t; its deviation is 1.29 times that)."""


@dataclass(frozen=True)
class AuctionTruth:
    """Whether a lot sells: logit(chance) = at_fair + slope · v, v = log(low estimate / fair value).

    The fair value is all-in, the estimate is of the hammer price. v is normal with `mean` and `deviation`
    among sold lots and does not depend on the price that they bring.
    """

    at_fair: float = 0.45
    slope: float = -3.0
    mean: float = -0.40
    deviation: float = 0.20


@dataclass(frozen=True)
class ListingTruth:
    """When a fixed-price listing sells: a constant daily hazard, log-linear in the asking price.

    hazard = daily_at_fair · exp(slope · u), u = log(ask / fair value at the end of the listing). A share
    `below_ask` of the sales goes for less than the ask, by a discount between `least` and `most`.
    """

    daily_at_fair: float = 0.025
    slope: float = -3.0
    below_ask: float = 0.3
    least: float = 0.02
    most: float = 0.10


AUCTIONS = AuctionTruth()
LISTINGS = ListingTruth()


def truth_document() -> dict[str, object]:
    """Return the whole truth as a document of names and numbers, as `truth.json` holds it."""
    market = scenario.market()
    eras = [era.name for era in market.eras]
    return {
        "response": "log of the all-in price in EUR",
        "base": BASE,
        "silhouettes": {name: one.effect for name, one in SILHOUETTES.items()},
        "colourways": {
            name: dict(
                zip(
                    (colourway.name for colourway in market.silhouette_by_name[name].colourways),
                    one.colourways,
                    strict=True,
                )
            )
            for name, one in SILHOUETTES.items()
        },
        "eras": ERAS,
        "era_by_silhouette": {
            name: {era: effect for era, effect in zip(eras, one.by_era, strict=True) if effect is not None}
            for name, one in SILHOUETTES.items()
        },
        "foot_mm": {str(level): effect for level, effect in FOOT_MM.items()},
        "grades": {str(level): effect for level, effect in GRADES.items()},
        "box": BOX,
        "tags": TAGS,
        "parts": PARTS,
        "defects": DEFECTS,
        "treatments": TREATMENTS,
        "treatments_on_originals": TREATMENTS_ON_ORIGINALS,
        "grade_gain": GRADE_GAIN,
        "restored_grade_limit": RESTORED_GRADE_LIMIT,
        "venues": VENUES,
        "months": {
            f"{2017 + (9 + month) // 12}-{(9 + month) % 12 + 1:02d}": level
            for month, level in enumerate(MONTH_LEVELS)
        },
        "residual": {
            "degrees_of_freedom": DEGREES_OF_FREEDOM,
            "scale_from_grade": {str(low): scale for low, scale in SCALES.items()},
        },
        "auctions": vars(AUCTIONS),
        "listings": vars(LISTINGS),
    }


def truth_json() -> str:
    """Return the truth as JSON text, as `truth.json` holds it."""
    return json.dumps(truth_document(), indent=1, ensure_ascii=False) + "\n"
