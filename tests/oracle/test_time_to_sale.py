"""Time to sale against hand-worked and published figures.

Rossi: data of the package lifelines 0.30.3, slopes recomputed with it, to 1e-5, since two optimisers stop at different
places.
"""

from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipeline.answers.consignment.time_to_sale import baseline, cox_slopes

DATA = Path(__file__).parent / "data"
ROSSI = ("fin", "age", "race", "wexp", "mar", "paro", "prio")
OPTIMISED = 1e-5


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
