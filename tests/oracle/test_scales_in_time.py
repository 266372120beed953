"""How wide scores are in time, held against the local level model of statsmodels.

Of many Gaussian scores of one period, the log of their root mean square is nearly Gaussian about the log of their scale
with variance 1 / (2n) (delta method: Casella & Berger 2002, Statistical Inference, 5.5.4). A log scale that walks is
then a local level model, whose one-step predictions are our log scales.
"""

import numpy as np
import pytest
from statsmodels.tsa.statespace.structural import UnobservedComponents

from pipeline.hedonic.scores import scales_in_time

PERIODS, MANY = 40, 4_000


@pytest.mark.parametrize("walk", [0.02, 0.05, 0.2])
def test_the_predicted_scale_is_that_of_a_local_level_model(walk: float) -> None:
    draws = np.random.default_rng(3)
    logs = np.cumsum(walk * draws.standard_normal(PERIODS))
    drawn = np.exp(logs)[:, None] * draws.standard_normal((PERIODS, MANY))

    scales = scales_in_time(drawn.ravel(), np.repeat(np.arange(PERIODS), MANY), np.inf, 30, (walk,))

    seen = np.log(np.sqrt(np.mean(drawn**2, axis=1)))
    model = UnobservedComponents(seen[1:], "local level")
    model.initialize_known([seen[0]], [[1 / (2 * MANY) + walk**2]])
    expected = model.filter([1 / (2 * MANY), walk**2]).predicted_state[0]
    np.testing.assert_allclose(np.log(scales[MANY::MANY]), expected, atol=0.002)
