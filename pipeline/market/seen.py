"""What an owner sees of a pair beyond what is priced: how it was lasted, its factory code, and the years it names."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

import polars as pl

from pipeline.config import Market
from pipeline.errors import PairError, suggest
from pipeline.ingest.attributes import read_stated
from pipeline.ingest.stamps import read_stamps
from pipeline.ingest.years import SEVERAL_ERAS, years_of_cells
from pipeline.market.evidence import years_within
from pipeline.market.pair import Pair
from pipeline.schema import COLUMN, SOURCE_FIELDS, UNKNOWN


@dataclass(frozen=True)
class SeenWords:
    """What is seen, in the owner's words; None where nothing is said."""

    lasting: str | None = None
    factory_code: str | None = None
    stamp: str | None = None
    made: str | None = None

    @property
    def given(self) -> tuple[str, ...]:
        """The options that say something."""
        named = {
            "--lasting": self.lasting,
            "--factory-code": self.factory_code,
            "--stamp": self.stamp,
            "--made": self.made,
        }
        return tuple(option for option, said in named.items() if said is not None)


@dataclass(frozen=True)
class Seen:
    """What is seen: None where nobody looked. `within` holds how many of its years lie in each era, by its name;
    `years` are its words for them, and `from_label` says that they are the label's date.
    """

    lasting: str | None = None
    factory_code: str | None = None
    within: Mapping[str, float] = field(default_factory=dict)
    years: str = ""
    from_label: bool = False


def read_seen(words: SeenWords, market: Market, *, as_of: date, known: Seen | None = None) -> Seen:
    """Return what the owner's words say, and of what they do not speak, what is `known`.

    Each word is read as a cell of an export is. Raises PairError for one that means nothing, for a label that
    contradicts the factory code, and for years in no era.
    """
    known = Seen() if known is None else known
    stamped = _read_stamp(words.stamp, market, as_of=as_of)
    code = None if words.factory_code is None else words.factory_code.strip().upper()
    if code and stamped.factory_code not in (None, code):
        raise PairError(
            f"the stamp says factory {stamped.factory_code!r}, --factory-code says {code!r}",
            "give one of them.",
        )
    dated = stamped if stamped.years else _read_made(words.made, market, as_of=as_of)
    if not dated.years:
        dated = known
    return Seen(
        lasting=_read_lasting(words.lasting, market) or known.lasting,
        factory_code=code or stamped.factory_code or known.factory_code,
        within=dated.within,
        years=dated.years,
        from_label=dated.from_label,
    )


def seen_of_record(record: Mapping[str, object], market: Market, *, as_of: date) -> Seen:
    """Return what a row of a stock or lot list shows (the columns of `read_lots`)."""
    year, lasting, code = record["production_year"], record["lasting"], record["factory_code"]
    reasons = [str(cell["reason"]) for cell in _cells(record) if cell["field"] == "era"]
    of_words = next((one for one in reasons if one.startswith(SEVERAL_ERAS)), "")
    within: dict[str, float] = {}
    years = ""
    if isinstance(year, int):
        within, years = years_within(year, year, market.eras, as_of=as_of), str(year)
    elif of_words:
        shares = of_words.removeprefix(SEVERAL_ERAS)
        within = {era: float(share) for era, _, share in (one.rpartition("=") for one in shares.split(","))}
        years = f"years in {' and '.join(within)}"
    return Seen(
        lasting=None if lasting in (None, UNKNOWN) else str(lasting),
        factory_code=None if code is None else str(code),
        within=within,
        years=years,
        from_label=isinstance(year, int),
    )


def seen_records(pairs: list[tuple[Pair, Seen]]) -> pl.DataFrame:
    """Return one row a pair in the columns of a sale record that `as_levels` reads."""
    rows = [
        {
            "silhouette": pair.silhouette,
            "colourway": pair.colourway,
            "factory_code": seen.factory_code,
            "lasting": seen.lasting,
            "overlay": pair.overlay,
            "box": pair.box,
            "tags": pair.tags,
            "grade": pair.grade,
        }
        for pair, seen in pairs
    ]
    texts = ("silhouette", "colourway", "factory_code", "lasting", "overlay", "box", "tags")
    return pl.DataFrame(rows, schema={**dict.fromkeys(texts, pl.String), "grade": pl.Float64})


def _cells(record: Mapping[str, object]) -> list[Mapping[str, object]]:
    cells = record.get("unread")
    return cells if isinstance(cells, list) else []


def _read_stamp(text: str | None, market: Market, *, as_of: date) -> Seen:
    if text is None:
        return Seen()
    read = read_stamps(pl.Series([text], dtype=pl.String), as_of=as_of).row(0, named=True)
    if read["flag"] is not None or read["production_year"] is None:
        raise PairError(
            f"stamp {text!r}: {read['flag'] or 'no months can be read in it'}",
            "write it as on the label, such as '03/86-06/86 KX2'; a factory code alone is --factory-code.",
        )
    year = read["production_year"]
    return Seen(
        factory_code=read["factory_code"],
        within=_within_some(year, year, text, market, as_of=as_of),
        years=str(year),
        from_label=True,
    )


def _read_made(text: str | None, market: Market, *, as_of: date) -> Seen:
    if text is None:
        return Seen()
    read = years_of_cells(pl.Series([text], dtype=pl.String)).row(0, named=True)
    if read["year_from"] is None:
        raise PairError(f"made {text!r}: no years can be read in it", "give them as 1986, 1984-86 or 1980s.")
    first, last = read["year_from"], read["year_to"]
    within = _within_some(first, last, text, market, as_of=as_of)
    return Seen(within=within, years=f"{first}" if first == last else f"{first}–{last}")


def _within_some(first: int, last: int, text: str, market: Market, *, as_of: date) -> dict[str, float]:
    within = years_within(first, last, market.eras, as_of=as_of)
    if not sum(within.values()):
        raise PairError(f"{text!r}: no era of the market file has such a year", "see `pairband check`.")
    return within


def _read_lasting(text: str | None, market: Market) -> str | None:
    if text is None:
        return None
    fields = pl.DataFrame(
        {name: [text if name == "lasting" else None] for name in SOURCE_FIELDS},
        schema=dict.fromkeys(SOURCE_FIELDS, pl.String),
    )
    read = read_stated(fields, market, list_mark=",", words={})["lasting"].row(0, named=True)
    if read["unread"] is not None:
        raise PairError(
            f"lasting {text!r} is not one of those known", suggest(text, COLUMN["lasting"].allowed or ())
        )
    return None if read["value"] in (None, UNKNOWN) else str(read["value"])
