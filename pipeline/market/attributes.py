"""The attributes of a pair as a reader meets them: their order, their titles, their values as text."""

from collections.abc import Iterable

import polars as pl

from pipeline.hedonic.levels import level_text
from pipeline.hedonic.specification import Term
from pipeline.market.model import FACTORS
from pipeline.schema import UNKNOWN

ORDER: tuple[str, ...] = tuple(FACTORS)
"""The factor columns in the order in which the waterfall takes them."""

TITLES: dict[str, str] = {"size_mm": "size", "month": "market"}

SINGULAR: dict[str, str] = {"parts": "part", "defects": "defect", "treatments": "treatment"}


def attribute_of(columns: tuple[str, ...]) -> str:
    """Return the attribute in whose step a term stands: the latest of its columns in ORDER.

    So "colourway within silhouette" belongs to the colourway, and "grade by era" to the grade.
    """
    known = [column for column in columns if column in ORDER]
    return max(known, key=ORDER.index) if known else columns[0]


def attributes_by_term(terms: Iterable[Term]) -> dict[str, str]:
    """Return the attribute of each term by the term's name, which an owner may choose freely."""
    return {term.name: attribute_of(term.columns) for term in terms}


def factor_texts(factors: pl.DataFrame) -> dict[str, list[str]]:
    """Return, for each factor column, its values as a reader sees them."""
    texts: dict[str, list[str]] = {}
    for name, dtype in FACTORS.items():
        if isinstance(dtype, pl.List):
            listed = factors[name].list.sort().list.join(", ")
            texts[name] = [UNKNOWN if text is None else text or "none" for text in listed]
        elif name == "month":
            texts[name] = [f"{month // 12}-{month % 12 + 1:02d}" for month in factors[name]]
        else:
            shown = factors.select(level_text(name, dtype)).to_series().to_list()
            unit = " mm" if name == "size_mm" else ""
            texts[name] = [text if text == UNKNOWN else text + unit for text in shown]
    return texts
