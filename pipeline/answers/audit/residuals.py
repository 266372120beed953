"""The residuals of a fit in an audit: their spread, their tails, and the records that pull the fit most."""

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.answers.audit import words
from pipeline.answers.audit.figures import Figure, Influence
from pipeline.hedonic.fitted import Fit

Array = NDArray[np.float64]

MOST_INFLUENTIAL = 10


def describe_errors(whole: Fit, left: pl.DataFrame, scores: Array, values: Array) -> tuple[Figure, ...]:
    """Return what the errors are like: whether their spread varies (White's special form), and their tails.

    `left` holds the residuals of the records of the fit `whole`; `scores` and `values` (log price) are of sales that
    were priced before they happened.
    """
    from scipy.special import chdtrc  # scipy.stats has it too, and takes half a second to import

    figures: list[Figure] = []
    scaled = left["residual"] / whole.residual_scale
    raw = scaled.to_numpy()
    for name, squares, fitted in (
        ("spread varies with the price, before scatter is allowed for", raw**2, left["fitted"].to_numpy()),
        ("spread varies with the price, in the bands", scores**2, values),
    ):
        if len(squares) > 10 and np.ptp(fitted) > 0:
            clipped = np.minimum(squares, np.quantile(squares, 0.99))
            chance = float(chdtrc(2, _koenker(clipped, fitted)))
            figures.append(Figure(name, chance, None, None, "", None, "", words.of_spread(name, chance)))
    if len(raw) > 10:
        lean, heavy = scaled.skew() or 0.0, scaled.kurtosis() or 0.0
        chance = float(chdtrc(2, len(raw) / 6 * (lean**2 + heavy**2 / 4)))
        figures.append(
            Figure("skewness of residuals", lean, None, None, "", None, "", words.of_skewness(lean))
        )
        figures.append(
            Figure(
                "normality of residuals (Jarque–Bera)",
                chance,
                None,
                None,
                "",
                None,
                "",
                words.of_normality(chance),
            )
        )
        beyond = 100 * float(np.mean(np.abs(raw) > 3))
        figures.append(
            Figure(
                "residuals beyond three scales",
                beyond,
                None,
                None,
                "%",
                None,
                "",
                words.of_outliers(beyond, whole.degrees_of_freedom),
            )
        )
    return tuple(figures)


def _koenker(squares: Array, fitted: Array) -> float:
    """Return n R² of squared errors on the fitted value and its square (White's special form, Koenker's)."""
    centred = (fitted - fitted.mean()) / fitted.std()
    regressors = np.stack([np.ones(len(centred)), centred, centred**2], axis=1)
    rest = squares - regressors @ np.linalg.lstsq(regressors, squares, rcond=None)[0]
    return float(len(squares) * (1 - np.sum(rest**2) / np.sum((squares - squares.mean()) ** 2)))


def most_influential(known: pl.DataFrame, left: pl.DataFrame) -> tuple[Influence, ...]:
    """Return the MOST_INFLUENTIAL records of the fit that pull their own fitted price most.

    The pull is weight · residual · leverage / (1 − leverage): by how much the fitted log price would move
    if the record were left out. `left` holds the residuals of the `known` records.
    """
    pull = left["residual"] * left["weight"] * left["leverage"] / (1 - left["leverage"]).clip(1e-6)
    ranked = known.with_columns(left["residual"], left["weight"], pull.alias("pull"))
    ranked = ranked.sort(pl.col("pull").abs(), "record_id", descending=[True, False]).head(MOST_INFLUENTIAL)
    return tuple(
        Influence(
            row["record_id"],
            row["title"],
            row["venue"],
            row["sold_on"],
            row["price_paid"],
            float(np.exp(row["residual"])),
            row["weight"],
            float(np.expm1(row["pull"])),
        )
        for row in ranked.iter_rows(named=True)
    )
