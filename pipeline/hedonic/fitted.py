"""A fit: the estimates of a specification on records, and everything needed to predict from them."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.hedonic.convergence import Convergence
from pipeline.hedonic.design import Design, Factor
from pipeline.hedonic.inverse import Inverse
from pipeline.hedonic.layout import Layout, ordered_groups
from pipeline.hedonic.levels import readable
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.specification import Specification

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Walk:
    """A random walk: its last level with records, and the variance of one step."""

    term: str
    last: float
    step_variance: float


@dataclass(frozen=True)
class Trend:
    """Where a walk is at its end, and how it goes on from there: a damped trend (Gardner and McKenzie 1985).

    A walk is shrunk to a flat one, so that its levels are behind a steady slope: the last one most, those before less
    and less. `lags` holds by how many months (one a level, in their order). The slope is the last level less that of
    `months` before, divided by `span`: what the walk shows over them of a steady slope of one a month.
    """

    term: str
    months: int
    damping: float
    span: float
    lags: tuple[float, ...]

    def steps(self, levels: Array, places: Array) -> Array:
        """Return how many slopes lie between what the walk says at some places and the market there.

        They are the lag, and beyond the last of the walk's `levels` also damping + damping² + … + damping^distance.
        """
        beyond = np.maximum(places - levels[-1], 0)
        damped: Array = self.damping * (1 - self.damping**beyond) / (1 - self.damping)
        return damped + np.interp(places, levels, self.lags)


@dataclass(frozen=True)
class Fit:
    """Estimates in log price. Everything is per coefficient (p,), the intercept first.

    coefficients, covariance
        (p,), and sigma² (X'WX + S)^-1 kept in parts, the Bayesian covariance; a coefficient is the effect of a
        level against its term's reference, so the intercept is the log price of a record at all
        references, at the last level of every walk.
    sigma2
        The REML variance of the (pseudo-)response; `lambdas` are relative to it.
    residual_scale, robust
        Scale of the errors, and how residuals were weighed (None: all alike). `degrees_of_freedom` is the degrees of
        freedom of Student-t errors, infinite where they are Gaussian.
    edf, rows, unpenalised
        Effective number of coefficients, records fitted, and M, the directions no penalty touches.
    downweighted, doubtful
        (row, residual, weight, influence): of the `doubtful` records whose weight fell below a half, the most
        influential ones, those first; `influence` is the log price by which the record would draw its own fitted value
        if it had full weight.
    trend
        Where a walk is at its end and how it goes on; None: as it says, and at its last level.
    """

    specification: Specification
    design: Design
    layout: Layout
    coefficients: Array
    covariance: Inverse
    sigma2: float
    residual_scale: float
    robust: Robust | None
    lambdas: dict[str, float]
    edf: float
    rows: int
    convergence: Convergence
    downweighted: pl.DataFrame
    doubtful: int = 0
    trend: Trend | None = None

    @property
    def unpenalised(self) -> int:
        """Return M, the number of directions that no penalty touches."""
        return self.layout.unpenalised

    @property
    def degrees_of_freedom(self) -> float:
        """Return the degrees of freedom of the errors (infinite: Gaussian)."""
        return (
            self.robust.degrees_of_freedom
            if self.robust is not None and self.robust.kind == "student-t"
            else np.inf
        )

    @property
    def residual_df(self) -> float:
        """Return the records left after the effective coefficients."""
        return self.rows - self.edf

    @cached_property
    def labels(self) -> pl.DataFrame:
        """Return one row a level: position (null without a coefficient), term, level, role, rows.

        `role` is "fitted", "reference", or "left out" (collinear, or a term of one level). The rows with
        a position stand in the order of the coefficients.
        """
        terms, levels, rows, roles = ["intercept"], [""], [self.rows], ["fitted"]
        for factor in self.design.factors:
            for local, key in enumerate(factor.keys):
                fitted = self.layout.positions[factor.start + local] < self.layout.size
                reference = local in factor.references
                terms.append(factor.term.name)
                levels.append(readable(key))
                rows.append(int(factor.rows[local]))
                roles.append("fitted" if fitted else "reference" if reference else "left out")
        positions = [
            int(position) if position < self.layout.size else None for position in self.layout.positions[:-1]
        ]
        return pl.DataFrame(
            {"position": positions, "term": terms, "level": levels, "role": roles, "rows": rows},
            schema_overrides={"position": pl.Int64, "rows": pl.Int64},
        )

    @cached_property
    def variances(self) -> Array:
        """The variance of each coefficient (p,)."""
        return self.covariance.diagonal()

    @cached_property
    def effects(self) -> pl.DataFrame:
        """Return the labels with effect and error in log price (zero for references)."""
        padded = np.append(self.coefficients, 0.0)
        errors = np.append(np.sqrt(np.maximum(self.variances, 0)), 0.0)
        places = self.layout.positions[:-1]
        return self.labels.with_columns(
            pl.Series("effect", padded[places]), pl.Series("error", errors[places])
        )

    @cached_property
    def terms(self) -> pl.DataFrame:
        """Return one row a term: term, kind, levels, coefficients, edf, lambda, sd (of a pooled effect or step).

        `sd` is sqrt(sigma² / lambda); null for unpenalised terms.
        """
        scaled = self.variances / self.sigma2
        rows = []
        for factor in self.design.factors:
            places = self.layout.positions[factor.start : factor.stop]
            places = places[places < self.layout.size]
            factor_lambda = self.lambdas.get(factor.term.name)
            rows.append(
                {
                    "term": factor.term.name,
                    "kind": factor.term.kind,
                    "levels": factor.size,
                    "coefficients": len(places),
                    "edf": len(places) - self._shrunk(factor.term.name, scaled),
                    "lambda": factor_lambda,
                    "sd": None if factor_lambda is None else float(np.sqrt(self.sigma2 / factor_lambda)),
                }
            )
        return pl.DataFrame(
            rows,
            schema={
                "term": pl.String,
                "kind": pl.String,
                "levels": pl.Int64,
                "coefficients": pl.Int64,
                "edf": pl.Float64,
                "lambda": pl.Float64,
                "sd": pl.Float64,
            },
        )

    def _shrunk(self, term: str, diagonal: Array) -> float:
        """Return lambda tr(V S): the coefficients of a term that its penalty takes away."""
        for penalty in self.layout.penalties:
            if penalty.term == term:
                if penalty.root is None:
                    trace = float(diagonal[penalty.span].sum())
                else:
                    places = np.arange(penalty.start, penalty.start + penalty.size)
                    trace = penalty.trace(self.covariance.taken(places) / self.sigma2)
                return self.lambdas[term] * trace
        return 0.0

    @cached_property
    def dropped(self) -> pl.DataFrame:
        """Return (term, level, reason) of what has no coefficient of its own."""
        return pl.DataFrame(
            [(left.term, readable(left.level), left.reason) for left in self.layout.dropped],
            schema={"term": pl.String, "level": pl.String, "reason": pl.String},
            orient="row",
        )

    @cached_property
    def walks(self) -> tuple[Walk, ...]:
        """Return the random walks of the fit, with the variance by which each moves on."""
        return tuple(
            Walk(factor.term.name, last_level(factor), self.sigma2 / self.lambdas[factor.term.name])
            for factor in self.design.factors
            if factor.term.kind == "walk" and factor.term.name in self.lambdas
        )

    def factor(self, term: str) -> Factor:
        """Return the factor of a term by name; raises KeyError."""
        for factor in self.design.factors:
            if factor.term.name == term:
                return factor
        raise KeyError(term)


def last_level(factor: Factor) -> float:
    """Return the last place of an ordered factor."""
    axis = np.zeros(0) if factor.axis is None else factor.axis
    return max(float(axis[members[-1]]) for members, _ in ordered_groups(factor))
