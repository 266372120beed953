"""Is each term of the default model worth having? Rolling-origin error on the demo's sales without it.

The fit is made again at the start of each quarter of the last three years on all earlier sales, and
prices what sold in that quarter; each line leaves out (or changes) one term of the default model. The
error is the mean absolute one in log price, shown against the default's with the standard error of the
difference over sales. Nothing here is a real price.

Run: OPENBLAS_NUM_THREADS=1 python tests/bench/bench_default_model.py
"""

import math
import sys
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import polars as pl

from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.rolling import choose_origins, roll
from pipeline.hedonic.specification import Specification, Term
from pipeline.hedonic.threads import one_blas_thread
from pipeline.market.model import DEFAULT_TERMS, RESPONSE, specification
from pipeline.market.settings import RISING, fit_settings
from sample_data import scenario
from tests.demo_ledger import demo_sales

QUARTERS = 12


def variants() -> Iterator[tuple[str, tuple[Term, ...], tuple[str, ...]]]:
    """Yield (name, terms, curves held to a rise): the default model, then each change to it."""
    yield "the default model", DEFAULT_TERMS, RISING
    yield "grade not held to a rise", DEFAULT_TERMS, ()
    for name, terms in changed_terms():
        yield name, terms, RISING


def changed_terms() -> Iterator[tuple[str, tuple[Term, ...]]]:
    """Yield (name, terms) of each change to the terms."""
    for left_out in DEFAULT_TERMS:
        if left_out.name != "month":
            yield f"without {left_out.name}", tuple(term for term in DEFAULT_TERMS if term != left_out)
    for name in ("grade", "size"):
        yield (
            f"{name} as levels, no curve",
            tuple(Term(t.name, "level", t.columns) if t.name == name else t for t in DEFAULT_TERMS),
        )
    yield (
        "silhouettes and colourways as plain dummies",
        tuple(
            Term(t.name, "level", t.columns) if t.name in ("silhouette", "colourway") else t
            for t in DEFAULT_TERMS
        ),
    )
    yield (
        "treatments and defects pooled",
        tuple(
            Term(t.name, "pooled", t.columns) if t.name in ("treatments", "defects") else t
            for t in DEFAULT_TERMS
        ),
    )


def errors_of(sales: pl.DataFrame, terms: tuple[Term, ...], rising: tuple[str, ...]) -> np.ndarray:
    """Return |error| in log price of each sale that was priced before it happened, in a fixed order."""
    market = scenario.market()

    def specify(past: pl.DataFrame) -> Specification:
        default = {term.name: term for term in specification(market, past).terms}
        return Specification(
            RESPONSE, tuple(default[t.name] if t == _plain(default, t) else t for t in terms)
        )

    whole = fit_settings(market)
    settings = replace(whole, specify=specify, scatter=(), rising=rising)
    origins = choose_origins(sales["month"], step=3, most=QUARTERS, fewest=500)
    rolled = roll(FrameSource(sales), settings, origins)
    if rolled.failed:
        sys.exit(f"an origin failed: {rolled.failed[0]}")
    return rolled.sales.sort("row")["error"].abs().to_numpy()


def _plain(default: dict[str, Term], term: Term) -> Term | None:
    """Return the default's own declaration of a term that is not changed, whatever its reference became."""
    known = default.get(term.name)
    return term if known is not None and (known.kind, known.columns) == (term.kind, term.columns) else None


def main() -> None:
    """Print the table."""
    sales = demo_sales().sort("record_id")
    base: np.ndarray | None = None
    print(f"{'model':46} {'sales':>6} {'MdAPE %':>8} {'mean |e|':>9} {'against':>8} {'± se':>7}")
    with one_blas_thread():
        for name, terms, rising in variants():
            errors = errors_of(sales, terms, rising)
            base = errors if base is None else base
            gap = errors - base
            error = float(np.std(gap) / math.sqrt(len(gap)))
            print(
                f"{name:46} {len(errors):6} {100 * (math.exp(float(np.median(errors))) - 1):8.2f} "
                f"{float(np.mean(errors)):9.4f} {float(np.mean(gap)):+8.4f} {error:7.4f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
