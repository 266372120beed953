"""How the search for a fit's smoothing parameters went: kept with the fit, without the search itself."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Convergence:
    """How the search for lambda went.

    `steps` solves were made; `gradient` is the largest |d(-2 REML log-likelihood)/d log lambda| left
    among those inside their bounds; `at_bound` names the terms whose variance went to zero (or to no
    bound); `ridge_floor` is what had to be added to the scaled diagonal (0 as a rule).
    """

    steps: int
    newton_steps: int
    gradient: float
    converged: bool
    criterion: float
    at_bound: tuple[str, ...]
    ridge_floor: float
