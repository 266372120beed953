"""Appraisals for the tests of the pages. Everything in them is invented."""

import math
from datetime import date, timedelta

from pipeline.answers.appraisal.appraisal import Adjustment, Appraisal, Comparable, Step
from pipeline.answers.appraisal.cautions import Caution
from pipeline.market.bands import Band
from pipeline.market.fitted_market import Source
from pipeline.market.pair import Pair

AS_OF = date(2024, 6, 1)
SOURCE = Source(
    records=5321,
    first_sale=date(2015, 3, 2),
    last_sale=date(2024, 5, 30),
    fit_id="5f1c09a2",
    fitted_on=date(2024, 6, 1),
    version="0.1.0",
)
HOSTILE = (
    "</script><script>document.title='owned'</script><img src=x onerror=alert(1)> "
    "=cmd|' /C calc'!A0 \u202egnp.exe\u2066 \u2028\u2029 {{ 7*7 }} & <b>bold</b>"
)
LONG = "Gannet Hi " * 1000


def bands_about(median: float, spread: float) -> tuple[Band, ...]:
    """Return the three bands of a log-normal with this median and standard deviation of log price."""
    return tuple(
        Band(level, median * math.exp(-z * spread), median * math.exp(z * spread))
        for level, z in ((0.5, 0.6745), (0.8, 1.2816), (0.95, 1.96))
    )


def steps_from(
    start: float, effects: list[tuple[str, str, float, float, int]]
) -> tuple[tuple[Step, ...], float]:
    """Return the steps that lead from a start price through (attribute, value, factor, error, sales)."""
    price = start
    steps = []
    for attribute, value, factor, error, sales in effects:
        price *= factor
        steps.append(Step(attribute, value, factor, price, error, sales))
    return tuple(steps), price


def comparable(number: int, median: float, title: str = "", venue: str = "Holm Sound Auctions") -> Comparable:
    """Return the comparable of that number, farther from the subject the higher it is."""
    grade = (8.0, 7.5, 8.5, 7.0, 9.0)[number % 5]
    adjustments = (
        Adjustment("grade", f"{grade:g}", "8", math.exp(0.09 * (8.0 - grade))),
        Adjustment(
            "box", ("original", "none", "replacement")[number % 3], "original", (1.0, 1.14, 1.08)[number % 3]
        ),
        Adjustment("size", f"{265 + 5 * (number % 4)} mm", "275 mm", 1 + 0.004 * (2 - number % 4)),
        Adjustment(
            "month of sale",
            f"{(number * 5) % 12 + 1:02d}/{2024 - number // 3}",
            "06/2024",
            1.02 + 0.02 * number,
        ),
    )
    residual = 0.17 * math.sin(number * 2.3)
    adjusted = median * math.exp(residual)
    return Comparable(
        record_id=f"rec-{number:04d}",
        title=title or f"Ostrel Gannet Hi Buoy Red, first run, grade {grade:g}, lot {700 + number * 13}",
        venue=venue if number % 3 else "Lantern Dock",
        sold_on=AS_OF - timedelta(days=37 + 97 * number),
        price_paid=round(adjusted / math.prod(line.factor for line in adjustments), 2),
        adjustments=tuple(line for line in adjustments if line.factor != 1),
        adjusted_price=adjusted,
        distance=0.04 + 0.03 * number,
        residual=residual,
    )


NEVER_SOLD = Caution(
    "No sale of this silhouette is in the ledger: its price is drawn from all silhouettes.", "too few sales"
)


def common_pair() -> Appraisal:
    """Return the appraisal of a pair with many sales behind it."""
    steps, median = steps_from(
        612.0,
        [
            ("silhouette", "Gannet Hi", 1.32, 0.021, 842),
            ("colourway", "Buoy Red", 1.18, 0.034, 127),
            ("era", "first", 1.46, 0.028, 388),
            ("size", "275 mm", 1.004, 0.012, 611),
            ("grade", "8", 1.09, 0.015, 702),
            ("box", "original", 1.14, 0.018, 1204),
            ("tags", "none", 0.94, 0.017, 2911),
            ("overlay", "vinyl", 0.97, 0.022, 540),
            ("defect", "yellowing", 0.91, 0.026, 214),
            ("treatment", "deep clean", 1.02, 0.019, 431),
            ("month", "June 2024", 1.07, 0.031, 46),
        ],
    )
    return Appraisal(
        pair=Pair(
            silhouette="Gannet Hi",
            colourway="Buoy Red",
            era="first",
            size_label="43",
            size_system="EU",
            foot_mm=275,
            grade=8.0,
            box="original",
            tags="none",
            overlay="vinyl",
            parts=(),
            defects=("yellowing",),
            treatments=("deep clean",),
            label="Stock 0417",
        ),
        as_of=AS_OF,
        currency="EUR",
        median=median,
        bands=bands_about(median, 0.19),
        start="a pair of every reference level, sold in May 2019",
        start_price=612.0,
        steps=steps,
        comparables=tuple(comparable(number, median) for number in range(12)),
        in_support=True,
        cautions=(
            "First-run pairs of the mid-1980s fit half a size to a full size small against a modern one.",
            "Vinyl overlays of this age dry and crack; look at the toe before you rely on the grade.",
        ),
        source=SOURCE,
    )


def rare_pair() -> Appraisal:
    """Return the appraisal of a pair with two sales near it, and an attribute that none of them shares."""
    steps, median = steps_from(
        612.0,
        [
            ("silhouette", "Plover Lo", 0.71, 0.09, 31),
            ("colourway", "Kelp", 1.9, 0.24, 2),
            ("era", "second", 0.88, 0.03, 402),
            ("size", "not known", 1.0, 0.06, 388),
            ("grade", "9.5", 1.58, 0.05, 41),
            ("tags", "attached", 1.21, 0.06, 77),
            ("part", "spare laces", 1.05, 0.11, 0),
        ],
    )
    return Appraisal(
        pair=Pair(
            silhouette="Plover Lo",
            colourway="Kelp",
            era="second",
            grade=9.5,
            tags="attached",
            parts=("spare laces",),
        ),
        as_of=AS_OF,
        currency="EUR",
        median=median,
        bands=bands_about(median, 0.42),
        start="a pair of every reference level, sold in May 2019",
        start_price=612.0,
        steps=steps,
        comparables=tuple(
            comparable(number, median, title=f"Marrowick Plover Lo “Kelp”, near deadstock, item {number + 4}")
            for number in range(2)
        ),
        in_support=True,
        cautions=("Only two sales of this colourway: most of its value comes from similar models.",),
        source=SOURCE,
    )


def pair_outside_the_data() -> Appraisal:
    """Return the appraisal of a pair of a silhouette that was never sold."""
    steps, median = steps_from(
        612.0,
        [
            ("silhouette", "Knot Racer", 1.0, 0.55, 0),
            ("era", "reissue", 0.52, 0.02, 1903),
            ("grade", "10", 1.41, 0.06, 88),
        ],
    )
    return Appraisal(
        pair=Pair(silhouette="Knot Racer", era="reissue", grade=10.0),
        as_of=AS_OF,
        currency="EUR",
        median=median,
        bands=bands_about(median, 0.8),
        start="a pair of every reference level, sold in May 2019",
        start_price=612.0,
        steps=steps,
        comparables=(),
        in_support=False,
        cautions=(NEVER_SOLD.words,),
        source=SOURCE,
        weak=(NEVER_SOLD,),
    )


def hostile_pair() -> Appraisal:
    """Return an appraisal whose every word comes from somebody who means harm."""
    steps, median = steps_from(
        88.0,
        [
            (HOSTILE, HOSTILE, 1.2, 0.1, 3),
            ("colourway", LONG, 0.8, 0.2, 1),
            ("=1+1", "@SUM(A1)", 1.0, 0.1, 0),
        ],
    )
    adjustments = (Adjustment(HOSTILE, HOSTILE, LONG, 1.1),)
    return Appraisal(
        pair=Pair(
            silhouette=HOSTILE,
            colourway=LONG,
            label=HOSTILE + LONG,
            defects=(HOSTILE,),
            treatments=("\u202e",),
        ),
        as_of=AS_OF,
        currency="JPY",
        median=median,
        bands=bands_about(median, 0.3),
        start=HOSTILE,
        start_price=88.0,
        steps=steps,
        comparables=(
            Comparable("=id", HOSTILE, HOSTILE, date(2020, 2, 29), 70.0, adjustments, 77.0, 0.1, -0.1),
            Comparable("id2", LONG, LONG, date(2021, 2, 28), 90.0, (), 90.0, 0.2, 0.1),
            Comparable("id3", "", "", date(2021, 2, 28), 90.0, (), 91.0, 0.2, 0.1),
        ),
        in_support=True,
        cautions=(HOSTILE, LONG),
        source=SOURCE,
    )
