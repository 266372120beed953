"""When two names are one: the single rule by which names, phrases, column names and cells are compared."""

from collections.abc import Iterable, Mapping

import polars as pl

from pipeline.ingest.cells import each, folded, spaced


def fold(text: pl.Expr) -> pl.Expr:
    """Return a text as names are compared: without case, accents, invisible signs, outer or double spaces.

    Texts that fold alike are one name. Every kind of dash is "-" and full-width signs are ordinary ones.
    """
    return folded(spaced(text)).str.replace_all(r"\p{Cf}+", "")


def fold_all(texts: Iterable[str]) -> list[str]:
    """Return the texts folded."""
    known = list(texts)
    return each(known, fold) if known else []


def fold_keys(words: Mapping[str, str]) -> dict[str, str]:
    """Return the words, folded, with what they mean; of words that fold alike the first counts."""
    if not words:
        return {}
    return dict(reversed(list(zip(fold_all(words), words.values(), strict=True))))


def find_alike(wanted: str, names: Iterable[str]) -> str | None:
    """Return the name that `wanted` means: the very same, else the first that folds alike, else None."""
    known = list(names)
    if wanted in known:
        return wanted
    folded_wanted, *folded_names = fold_all([wanted, *known])
    return next((name for name, form in zip(known, folded_names, strict=True) if form == folded_wanted), None)
