"""How an export is written, as far as its whole columns tell: the keys of an export map, or questions."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from pipeline.alike import fold_all
from pipeline.config import Market
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.dates import decide_date_order, read_dates
from pipeline.ingest.decision import Decision
from pipeline.ingest.header_words import BASIS_WORDS
from pipeline.ingest.numbers import decide_decimal_mark, read_amounts
from pipeline.ingest.readers import TextTable
from pipeline.ingest.readers.encoding import ASCII
from pipeline.ingest.sizes import read_sizes
from pipeline.schema import PRICE_BASES, SIZE_SYSTEMS

LANGUAGES = ("en", "de", "fr", "it", "es", "nl", "pt", "pl", "sv", "da", "ja")
"""The languages in which months in words are looked for."""

_UTF8 = (ASCII, "utf-8", "utf-8-sig")
_FITS = 0.9
"""A size system is possible when so many of the labels are shoe sizes in it."""


@dataclass(frozen=True)
class Setting:
    """A key of an export map that the file decides, with the reason."""

    key: str
    value: str
    why: str


@dataclass(frozen=True)
class Question:
    """A key that the file does not tell and the owner must: the values it can have, and why it is open."""

    key: str
    choices: tuple[str, ...]
    why: str


Said = Setting | Question


def read_settings(
    path: Path, table: TextTable, market: Market, columns: Mapping[str, str], language: str
) -> list[Said]:
    """Return what the file says of its venue, encoding, days, money and sizes, and what it leaves open.

    `columns` maps fields to the columns that are taken to hold them.
    """
    said = [_venue(path, market, columns)]
    if table.encoding is not None and table.encoding not in _UTF8:
        said.append(Setting("encoding", table.encoding, "so the bytes were read"))
    said += _days(_texts(table, columns, "closed_on", "sold_on", "offered_on"), language)
    said += _money(_texts(table, columns, "price_native", "ask_native"), table, columns)
    if "size_system" not in columns:
        said += _sizes(_texts(table, columns, "size_label"))
    return said


def likely_language(table: TextTable) -> str:
    """Return the language in which the most cells read as days; English where it makes no difference."""
    samples = [distinct_texts(table.cells[name], "text")["text"].head(200) for name in table.cells.columns]
    texts = pl.concat(samples)
    in_words = texts.str.contains(r"\p{L}") & texts.str.contains(r"\d") & (texts.str.len_chars() < 32)
    worded = texts.filter(in_words)
    if worded.len() == 0:
        return "en"
    days = {name: read_dates(worded, order="dmy", language=name)["day"] for name in LANGUAGES}
    return max(LANGUAGES, key=lambda name: (days[name].is_not_null().sum(), name == "en"))


def _texts(table: TextTable, columns: Mapping[str, str], *fields: str) -> pl.Series:
    found = [table.cells[columns[field]].alias("text") for field in fields if field in columns]
    return pl.concat(found).drop_nulls() if found else pl.Series("text", dtype=pl.String)


def _decided(key: str, decision: Decision, choices: tuple[str, ...]) -> Said:
    if decision.value is None:
        return Question(key, choices, f"the column is ambiguous: {decision.why}")
    return Setting(key, decision.value, f"{decision.confidence:.0%}: {decision.why}")


def _venue(path: Path, market: Market, columns: Mapping[str, str]) -> Said:
    name, *starts = fold_all([path.stem, *(venue.name.split()[0] for venue in market.venues)])
    near = [venue.name for venue, start in zip(market.venues, starts, strict=True) if start in name]
    if len(near) == 1:
        return Setting("venue", near[0], "from the file's name")
    why = "a column names the venue; say the usual one" if "venue" in columns else "which venue is it?"
    return Question("venue", tuple(venue.name for venue in market.venues), why)


def _days(texts: pl.Series, language: str) -> list[Said]:
    if texts.len() == 0:
        return []
    said = [_decided("date_order", decide_date_order(texts), ("dmy", "mdy", "ymd"))]
    if language != "en":
        said.append(Setting("language", language, "from months in words"))
    return said


def _money(texts: pl.Series, table: TextTable, columns: Mapping[str, str]) -> list[Said]:
    if texts.len() == 0:
        return []
    decision = decide_decimal_mark(texts)
    said: list[Said] = []
    if decision.value is None and table.numbers_are_plain:
        said.append(Setting("decimal_mark", ".", "the format stores numbers"))
    elif decision.value is None and not texts.str.contains(r"[.,]\d").any():
        said.append(Setting("decimal_mark", ".", "no amount has a mark"))
    else:
        said.append(_decided("decimal_mark", decision, (".", ",")))
    if "currency" not in columns:
        read = read_amounts(texts, decimal_mark="," if decision.value == "," else ".")
        signs = tuple(read["currency"].drop_nulls().unique().sort().to_list())
        if len(signs) == 1:
            said.append(Setting("currency", signs[0], "from the sign in the cells"))
        else:
            said.append(Question("currency", signs, "no column and no sign says it"))
    if "price_native" in columns:
        said.append(_basis(columns["price_native"]))
    return said


def _basis(column: str) -> Said:
    [name] = fold_all([column])
    bases = [basis for basis, words in BASIS_WORDS.items() if any(word in name for word in fold_all(words))]
    if len(bases) == 1:
        return Setting("price_basis", bases[0], f"from the column's name {column!r}")
    why = "a number does not say if it is the hammer price, all that the buyer paid, or the seller's net"
    return Question("price_basis", PRICE_BASES, why)


def _sizes(texts: pl.Series) -> list[Said]:
    if texts.len() == 0 or read_sizes(texts, system=None)["size_system"].is_not_null().all():
        return []
    lengths = {system: read_sizes(texts, system=system)["foot_mm"] for system in SIZE_SYSTEMS}
    fitting = tuple(system for system, mm in lengths.items() if mm.is_not_null().sum() >= _FITS * mm.len())
    if len(fitting) == 1:
        return [Setting("size_system", fitting[0], "the only system in which the labels are shoe sizes")]
    return [Question("size_system", fitting or SIZE_SYSTEMS, "the labels do not name their system")]
