"""Audits for the tests of their page. Everything in them is invented."""

from dataclasses import replace
from datetime import date

from pipeline.answers.audit.figures import (
    Audit,
    CoverageRow,
    Figure,
    Influence,
    Outcome,
    Pricer,
    Support,
    Verdict,
)
from pipeline.hedonic.accuracy import Accuracy, Margin
from pipeline.hedonic.coverage import Coverage
from pipeline.hedonic.interactions import Interactions
from pipeline.hedonic.second_stage import UNUSED
from pipeline.hedonic.trend import NO_TREND
from tests.appraisals import AS_OF, HOSTILE, LONG


def band(
    level: float, held: float, *, kind: str = "all", group: str = "all", sales: int = 900
) -> CoverageRow:
    """Return what the bands of a level held of so many later sales."""
    verdict: Outcome = "held up" if abs(held - level) < 0.04 else "too narrow"
    return CoverageRow(kind, group, Coverage(level, sales, held, 0.013, 0.7), verdict, "It held.")


def usual_audit() -> Audit:
    """Return an audit whose bands held up."""
    return Audit(
        as_of=AS_OF,
        currency="EUR",
        sales=5321,
        priced=930,
        first_priced=date(2021, 6, 1),
        last_priced=date(2024, 5, 30),
        origins=12,
        failed_origins=(),
        calibrated=True,
        pricers=(
            Pricer("pairband", Accuracy(930, 0.166, 0.32, 0.58), None, "Half lay within 16.6 %."),
            Pricer(
                "last comparable",
                Accuracy(930, 0.29, 0.17, 0.35),
                Margin(0.124, 0.108, 0.145),
                "The value is nearer.",
            ),
        ),
        coverages=(
            band(0.5, 0.51),
            band(0.8, 0.79),
            band(0.95, 0.949),
            band(0.8, 0.81, kind="era", group="first", sales=210),
            band(0.5, 0.44, kind="era", group="first", sales=210),
            band(0.8, 0.7, kind="grade", group="2 to 3.5", sales=31),
        ),
        ratios=(
            Figure("COD", 25.3, 23.4, 27.4, "", (5, 20), "poor", "Values lie apart.", 23.5),
            Figure("PRB", -0.149, -0.179, -0.12, "", (-0.05, 0.05), "poor", "Expensive pairs.", -0.151),
        ),
        errors=(
            Figure("normality of residuals", 1e-12, None, None, "", None, "", "There are more surprises."),
            Figure(
                "residuals beyond three scales", 3.1, None, None, "%", None, "", "The model expects 3.0 %."
            ),
        ),
        second_stage=UNUSED,
        second_stage_words="What attributes are worth together is not counted.",
        interactions=Interactions(True),
        interactions_words=("No pair of attributes was found.",),
        trend=NO_TREND,
        trend_words="",
        influential=(
            Influence("r1", "Gannet Hi Buoy Red", "Lantern Dock", date(2023, 2, 1), 1217.0, 1.27, 0.8, 0.055),
        ),
        support=(Support("Gannet Hi", "first", 210), Support("Gannet Hi", "second", 0)),
        verdict=Verdict("held up", 0, "The bands held up."),
    )


def narrow_audit() -> Audit:
    """Return an audit whose 80 % band held too few."""
    return replace(
        usual_audit(),
        coverages=(band(0.8, 0.66),),
        verdict=Verdict("too narrow", 3, "The 80 % band held 66 % of 900 later sales."),
    )


def hostile_audit() -> Audit:
    """Return an audit whose every word comes from somebody who means harm, of records that carry little."""
    return replace(
        usual_audit(),
        priced=0,
        first_priced=None,
        last_priced=None,
        coverages=(band(0.8, 0.8), band(0.8, 0.8, kind="era", group=HOSTILE + LONG, sales=40)),
        ratios=(),
        errors=(),
        failed_origins=(HOSTILE,),
        influential=(Influence("=id", HOSTILE, LONG, date(2023, 2, 1), 9.0, 1.2, 1.0, -0.1),),
        support=(Support(HOSTILE, LONG, 3),),
        verdict=Verdict("unproven", 0, HOSTILE),
    )
