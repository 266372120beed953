"""Time to sale against hand-worked and published survival figures.

Waltons and Rossi: data of the package lifelines 0.30.3, figures recomputed with it; Kaplan–Meier figures to 1e-6
relative, Cox slopes to 1e-5, since two optimisers stop at different places.
"""

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipeline.answers.consignment.time_to_sale import baseline, cox_slopes, kaplan_meier

DATA = Path(__file__).parent / "data"
ROSSI = ("fin", "age", "race", "wexp", "mar", "paro", "prio")
DIGITS = 1e-6
OPTIMISED = 1e-5


def waltons() -> pl.DataFrame:
    return pl.read_csv(DATA / "waltons.csv")


def control() -> pl.DataFrame:
    return waltons().filter(pl.col("group") == "control")


def test_six_offers_by_hand_with_a_tie_and_two_that_ended_unsold() -> None:
    survival = kaplan_meier([1, 2, 2, 3, 4, 5], [1, 1, 0, 1, 0, 1])

    assert [survival.after(day) for day in (1, 2, 3, 4, 5)] == pytest.approx([5 / 6, 2 / 3, 4 / 9, 4 / 9, 0])


def test_an_offer_that_ends_unsold_counts_as_standing_on_that_day() -> None:
    assert kaplan_meier([1, 2, 2, 3, 4, 5], [1, 1, 0, 1, 0, 1]).at_risk.tolist() == [6, 5, 3, 1]


@pytest.mark.parametrize(("day", "share"), [(30, 0.9844350851), (60, 0.3785945361)])
def test_the_share_of_control_flies_alive(day: int, share: float) -> None:
    flies = control()

    assert kaplan_meier(flies["T"], flies["E"]).after(day) == pytest.approx(share, rel=DIGITS)


def test_the_median_of_control_flies() -> None:
    flies = control()

    assert kaplan_meier(flies["T"], flies["E"]).median == 58


def test_greenwoods_error_is_that_of_statsmodels() -> None:
    from statsmodels.duration.survfunc import SurvfuncRight

    flies = control()
    reference = SurvfuncRight(flies["T"].to_numpy(), flies["E"].to_numpy())

    ours = kaplan_meier(flies["T"], flies["E"]).error
    last_alive = reference.surv_prob > 0
    assert ours[last_alive] == pytest.approx(reference.surv_prob_se[last_alive], rel=DIGITS)


def test_the_log_rank_test_of_the_two_genotypes() -> None:
    """Mantel (1966), from those at risk and those that died: (observed - expected)² / variance of one group."""
    flies, group = waltons(), control()
    both = kaplan_meier(flies["T"], flies["E"])
    own = np.array([(group["T"] >= day).sum() for day in both.days]) / both.at_risk
    spread = both.sold * own * (1 - own) * (both.at_risk - both.sold) / np.maximum(both.at_risk - 1, 1)

    chi_square = (group["E"].sum() - np.sum(both.sold * own)) ** 2 / np.sum(spread)
    assert chi_square == pytest.approx(122.249125573, rel=DIGITS)


@pytest.mark.parametrize(
    ("cause", "slope"), [("fin", -0.37942217), ("age", -0.05743774), ("prio", 0.09149708)]
)
def test_cox_slopes_of_rossi_with_ties_by_efron(cause: str, slope: float) -> None:
    men = pl.read_csv(DATA / "rossi.csv")

    slopes, _ = cox_slopes(men["week"], men["arrest"], men.select(ROSSI).to_numpy())

    assert slopes[ROSSI.index(cause)] == pytest.approx(slope, abs=OPTIMISED)


def test_the_log_likelihood_of_rossi_is_that_of_efron() -> None:
    from statsmodels.duration.hazard_regression import PHReg

    men = pl.read_csv(DATA / "rossi.csv")
    causes = men.select(ROSSI).to_numpy().astype(float)
    slopes, _ = cox_slopes(men["week"], men["arrest"], causes)
    model = PHReg(men["week"].to_numpy(), causes, status=men["arrest"].to_numpy(), ties="efron")

    assert model.loglike(slopes) == pytest.approx(-658.74766, abs=OPTIMISED)


def test_breslows_baseline_without_causes_is_nelson_and_aalens() -> None:
    days, cumulative = baseline([1, 2, 2, 3, 4, 5], [1, 1, 0, 1, 0, 1], np.zeros(6))

    assert days.tolist() == [1, 2, 3, 5]
    assert cumulative == pytest.approx(
        [1 / 6, 1 / 6 + 1 / 5, 1 / 6 + 1 / 5 + 1 / 3, 1 / 6 + 1 / 5 + 1 / 3 + 1]
    )


def test_breslows_baseline_by_hand_with_an_offer_twice_as_fast() -> None:
    _, cumulative = baseline([1, 2], [1, 1], np.log([2.0, 1.0]))

    assert cumulative == pytest.approx([1 / 3, 1 / 3 + 1])
