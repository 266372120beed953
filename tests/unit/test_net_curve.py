"""What a price leaves its seller, and the price that leaves so much."""

import numpy as np

from pipeline.answers.lots.resale import NetCurve

LEAP = NetCurve(np.array([1.0, 2.0, 3.0, 4.0]), np.array([1.0, 2.0, 1.5, 3.0]))
"""At a price of 3 a higher fee begins on the whole of it: it leaves less than 2."""


def test_a_price_leaves_no_less_at_any_higher_price() -> None:
    np.testing.assert_allclose(LEAP.price_leaving(np.array([1.25, 1.75, 3.0])), [1.5, 3 + 0.25 / 1.5, 4.0])


def test_the_price_that_leaves_an_amount_does_not_depend_on_what_else_is_asked() -> None:
    asked = np.random.default_rng(2).uniform(0.5, 3.5, 200)

    one_by_one = [LEAP.price_leaving(np.array([net]))[0] for net in asked]

    np.testing.assert_array_equal(LEAP.price_leaving(asked), one_by_one)


def test_beyond_the_curve_a_price_leaves_what_its_end_does_in_proportion() -> None:
    np.testing.assert_allclose(LEAP.net(np.array([0.5, 8.0])), [0.5, 6.0])
