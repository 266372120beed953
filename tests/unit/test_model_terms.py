"""Every term that the market file may state can be fitted."""

from contextlib import suppress

import polars as pl
import pytest

from pipeline.config import Market, Model, ModelTerm
from pipeline.errors import FitError
from pipeline.hedonic.fit import fit
from pipeline.hedonic.fitted import Fit
from pipeline.market.model import specification
from pipeline.schema import FACTORS
from tests.drawn import sales

KINDS = ("level", "pooled", "curve", "walk", "flags")


def _allowed() -> list[ModelTerm]:
    """Return a term of every kind over every factor, and over every factor within eras, that may be stated."""
    terms = []
    for kind in KINDS:
        for column in FACTORS:
            for columns in ((column,), (column, "era")):
                with suppress(ValueError):
                    terms.append(ModelTerm.model_validate({"name": "own", "kind": kind, "columns": columns}))
    return terms


@pytest.fixture(scope="module")
def drawn() -> pl.DataFrame:
    return sales(120, 3)


@pytest.mark.parametrize("term", _allowed(), ids=lambda term: f"{term.kind} {' '.join(term.columns)}")
def test_a_term_that_may_be_stated_is_fitted(term: ModelTerm, market: Market, drawn: pl.DataFrame) -> None:
    own = market.model_copy(update={"model": Model(terms=(term,))})
    assert isinstance(fit(drawn, specification(own, drawn)), Fit)


@pytest.mark.parametrize("reference", ["x", "1e999", "99"])
def test_a_reference_that_no_sale_carries_is_told_by_the_fit(
    reference: str, market: Market, drawn: pl.DataFrame
) -> None:
    term = ModelTerm(name="own", kind="curve", columns=("grade",), reference=reference)
    own = market.model_copy(update={"model": Model(terms=(term,))})
    with pytest.raises(FitError, match=f"the reference '{reference}', which no record carries\nname a level"):
        fit(drawn, specification(own, drawn))


def test_every_kind_of_term_has_a_factor_that_it_may_read() -> None:
    assert {term.kind for term in _allowed()} == set(KINDS)
