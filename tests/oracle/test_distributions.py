"""Gaussian and Student-t against printed tables and closed forms.

The tables' digits, from memory: Abramowitz & Stegun, tables 26.1 and 26.10. With one degree of freedom Student-t is
Cauchy's, F(t) = 1/2 + arctan(t) / pi; with two F(t) = 1/2 + t / (2 √(2 + t²)). Tolerance: half of the last digit.
"""

from math import inf, pi, sqrt

import numpy as np
import pytest

from pipeline.hedonic.distributions import (
    FEW,
    normal_chance,
    normal_quantile,
    student_chance,
    student_density,
    student_quantile,
)

PLACES = [(-1.96, 0.0249979), (0.0, 0.5), (1.0, 0.8413447), (2.5, 0.9937903)]
TABLE = 5e-8


@pytest.mark.parametrize("times", [1, FEW // 4, FEW // 4 + 1])
def test_a_gaussian_lies_below_a_place_with_the_tables_chance(times: int) -> None:
    places, chances = np.array(PLACES * times).T
    assert normal_chance(places) == pytest.approx(chances, abs=TABLE)


@pytest.mark.parametrize("times", [1, FEW // 4, FEW // 4 + 1])
def test_a_gaussian_quantile_leads_back_to_the_tables_place(times: int) -> None:
    places, chances = np.array(PLACES * times).T
    assert normal_quantile(chances) == pytest.approx(places, abs=2e-6)


def test_chances_and_quantiles_keep_the_shape_that_they_were_asked_in() -> None:
    assert normal_chance([[0.0, 1.0]]).shape == (1, 2)
    assert normal_quantile([[0.5], [0.9]]).shape == (2, 1)
    assert normal_chance([]).tolist() == normal_quantile([]).tolist() == []


def test_nothing_lies_below_the_place_of_no_chance_and_all_below_that_of_certainty() -> None:
    assert normal_quantile([0.0, 0.5, 1.0]).tolist() == [-inf, 0.0, inf]
    assert normal_quantile([0.0]).tolist() == [-inf]
    assert normal_quantile([1.0]).tolist() == [inf]


def test_a_whole_chance_is_a_number_too() -> None:
    assert normal_chance(0) == 0.5
    assert normal_chance([0, 1]) == pytest.approx([0.5, 0.8413447], abs=TABLE)


@pytest.mark.parametrize(
    ("chance", "degrees_of_freedom", "place"),
    [(0.975, 5.0, 2.571), (0.95, 10.0, 1.812), (0.75, 1.0, 1.0), (0.975, inf, 1.960), (0.25, 1.0, -1.0)],
)
def test_a_students_quantile_is_the_tables(chance: float, degrees_of_freedom: float, place: float) -> None:
    assert student_quantile(chance, degrees_of_freedom) == pytest.approx(place, abs=5e-4)
    assert student_chance(place, degrees_of_freedom) == pytest.approx(chance, abs=5e-5)


@pytest.mark.parametrize("place", [-3.0, 0.0, 1.0, 2.0])
def test_with_two_degrees_of_freedom_the_chance_has_a_closed_form(place: float) -> None:
    assert student_chance(place, 2.0) == pytest.approx(0.5 + place / (2 * sqrt(2 + place**2)), abs=1e-12)


@pytest.mark.parametrize("place", [-3.0, 0.0, 1.0, 2.0])
def test_the_density_of_one_and_two_degrees_of_freedom_has_a_closed_form(place: float) -> None:
    assert student_density(place, 1.0) == pytest.approx(1 / (pi * (1 + place**2)), rel=1e-12)
    assert student_density(place, 2.0) == pytest.approx((2 + place**2) ** -1.5, rel=1e-12)


@pytest.mark.parametrize(("place", "density"), [(0.0, 0.3989423), (1.0, 0.2419707), (-2.0, 0.0539910)])
def test_the_density_of_a_gaussian_is_the_tables(place: float, density: float) -> None:
    assert student_density(place, inf) == pytest.approx(density, abs=TABLE)


def test_the_chance_of_an_unknown_place_is_unknown() -> None:
    assert np.isnan(normal_chance([0.0, None])).tolist() == [False, True]


def test_the_place_of_an_unknown_chance_is_unknown() -> None:
    assert np.isnan(normal_quantile([0.0, None])).tolist() == [False, True]
