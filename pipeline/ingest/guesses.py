"""What a column of an unknown export may be: its heading and its values, weighed against each field."""

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import polars as pl

from pipeline.alike import fold_all
from pipeline.config import Market
from pipeline.ingest.account import Account
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.combined import split_cells
from pipeline.ingest.dates import read_in_each_order
from pipeline.ingest.grades import read_grades
from pipeline.ingest.header_words import FIELD_WORDS, SIZE_SYSTEM_WORDS
from pipeline.ingest.heading_meaning import NOT_READ, Meaning, meanings, says_any, written
from pipeline.ingest.names import (
    CLOSED_FIELDS,
    allowed_words,
    closed_words,
    known_words,
    maker_words,
    read_names,
    silhouette_words,
)
from pipeline.ingest.offers import read_currencies
from pipeline.ingest.sizes import NOT_A_SIZE, read_sizes
from pipeline.ingest.status_meaning import YES_OR_NO, status_of
from pipeline.ingest.years import years_of_cells
from pipeline.schema import SIZE_SYSTEMS

LOOKED_AT = 2_000
"""How many distinct values of a column are looked at."""

_BY_VALUES = 0.38
_BY_PRICES = 0.2
"""What it adds to a status that its words part the rows with a price from those without."""

_LEAST_APART = 3
_BY_CHANCE = 1e-4
"""Words under a heading that says nothing are the status where they part the sold from the rest as chance does not."""

_NEARLY_ALL = 0.9

_LEAST_SHARE = 0.6
"""Of the values, so many must read as the field's kind."""

_WITHOUT_VALUES = 0.3
"""What is left of a heading's weight where the values do not bear it out."""

_OF_FEW_WORDS = 0.75
"""What is left of it for a column of a few words that are none of a field's: they can be translated."""

_FEW_WORDS = 15
_LONGEST_STATUS = 60
_NOT_ZERO = r"[1-9]"
_SHORT = 30
_FIVE_DIGITS = r"^\d{5}$"
"""A number, or the serial of a day, as the heading says."""

_TRANSLATED = ("status", "grade", "era", *CLOSED_FIELDS)
"""The fields whose words a map can translate."""

_BY_VALUES_ALONE = (
    *("title", "grade", "size_label", "currency", "maker", "silhouette", "era", "closed_on"),
    *CLOSED_FIELDS,
)
"""The fields that values can show without a heading that says so; a status, too, but not by yes and no."""

_SIZES_BY_CURRENCY = {"GBP": "UK", "USD": "US men", "CAD": "US men", "JPY": "JP"}
_AT_HOME = 0.03
"""Of two columns of sizes, the one in the system of the owner's country goes before."""

_MOST_PARTS = 5
_MOSTLY_SHARED = 0.8
_LONGEST_SHARED = 60
"""Characters of a usual cell that states several attributes; a title is longer."""

_IN_SPITE = ("title", "size_label", "closed_on")
"""Those of them that values show under a heading of another field that they do not fit."""

_LEAST_SIZES = 3
_SMALLEST_SIZE = 3.0


@dataclass(frozen=True)
class Guess:
    """A field that a column may hold, with the confidence from zero to one, why, and whether its heading says so."""

    column: str
    field: str
    confidence: float
    why: str
    by_heading: bool


def guess_fields(
    cells: pl.DataFrame, market: Market, account: Account, *, language: str, currency: str
) -> list[Guess]:
    """Return every likely pair of column and field but those of prices, the surest first.

    A heading that is a word for the field weighs 0.6, one that contains such a word 0.4 or less, and the share of
    values that read as the field's kind up to 0.38. A heading without values that fit counts for little, and a
    heading that means something else lets no values speak. `currency` tells the usual sizes of the country.
    """
    guesses = []
    names = _names_of(market)
    home = market.sizes.usual or _SIZES_BY_CURRENCY.get(currency, "EU")
    for column in sorted(cells.columns):
        said = meanings(column)
        amount = account.columns.get(column)
        of_amount = 0.0 if amount is None or amount.role is None else max(amount.confidence, 0.3)
        by_heading = {role: one for role, one in said.items() if role in FIELD_WORDS}
        if max((one.score for one in by_heading.values()), default=0.0) < of_amount:
            continue
        values = distinct_texts(cells[column], "text")["text"].sort().head(LOOKED_AT)
        filled = cells[column].drop_nulls().len()
        shares = _value_shares(values, filled, market, names, language, said=by_heading.keys())
        odds = 1.0 if account.price is None else _parted_by_chance(cells[column], cells[account.price])
        guesses += _guesses_of(column, said, shares, values, home, parted_by_chance=odds)
    return sorted(guesses, key=lambda guess: (-guess.confidence, guess.column, guess.field))


def _guesses_of(
    column: str,
    said: Mapping[str, Meaning],
    shares: Mapping[str, float],
    values: pl.Series,
    home: str,
    *,
    parted_by_chance: float,
) -> list[Guess]:
    by_heading = {role: one for role, one in said.items() if role in FIELD_WORDS}
    few = 2 <= values.len() <= _FEW_WORDS and bool((values.str.len_chars() <= _SHORT).all())
    unsuited = (
        NOT_READ not in said
        and all(shares.get(field, 0.0) < _LEAST_SHARE for field in by_heading if field != "notes")
        and "notes" not in by_heading
    )
    parts_the_sold = parted_by_chance < 1.0
    says_endings = shares.get("status", 0.0) >= _LEAST_SHARE and not set(map(written, values)) <= YES_OR_NO
    in_spite = (
        *(_IN_SPITE if unsuited else ()),
        *(("status",) if says_endings and (not said or unsuited or parts_the_sold) else ()),
    )
    guesses = []
    for field in FIELD_WORDS:
        share = shares.get(field)
        fits = share is not None and share >= _LEAST_SHARE
        if field in by_heading:
            weight, word = by_heading[field].score, by_heading[field].word
            if NOT_READ in said and said[NOT_READ].score >= weight and field not in in_spite:
                continue
            if share is not None and values.len() and not fits:
                weight *= _OF_FEW_WORDS if few and field in _TRANSLATED else _WITHOUT_VALUES
                if field == "status" and share == 0 and "grade" in by_heading:
                    weight *= _WITHOUT_VALUES
            why = f"{word!r} in its heading" + (f", and {share:.0%} of its values fit" if fits else "")
        elif fits and (field in in_spite or (not said and field in _BY_VALUES_ALONE)):
            weight, why = 0.0, f"{share:.0%} of its values fit"
        elif field == "status" and not said and parted_by_chance < _BY_CHANCE:
            weight, why, fits = _BY_VALUES * (1 - (share or 0.0) * fits), "its heading says nothing", True
        else:
            continue
        weight += _BY_VALUES * share if share is not None and fits else 0.0
        if field == "status" and parts_the_sold and (fits or field in by_heading):
            weight, why = weight + _BY_PRICES, f"{why}, and they part rows with a price from those without"
        weight = min(weight, 0.98)
        if field == "size_label" and not says_any(column, SIZE_SYSTEM_WORDS[home]):
            weight -= _AT_HOME
        guesses.append(Guess(column, field, round(weight, 2), why, field in by_heading))
    return guesses


def _parted_by_chance(words: pl.Series, prices: pl.Series) -> float:
    """Return how often chance would part the rows with a price from the others as a few words do; 1 where none do.

    Of each word's rows nearly all have a price, or nearly none; a ledger writes a price of zero where there was no
    sale. The more rows of both kinds, the less is it chance: of n rows, m of them with a price, one way in n choose m.
    """
    priced = prices.str.contains(_NOT_ZERO).fill_null(value=False)
    rows = pl.DataFrame({"word": words, "has_price": priced}).drop_nulls("word")
    known = rows["word"].unique()
    if not 2 <= known.len() <= _FEW_WORDS or bool((known.str.len_chars() > _LONGEST_STATUS).any()):
        return 1.0
    shares = rows.group_by("word").agg(pl.len(), share=pl.col("has_price").mean())
    with_price, without = shares["share"] >= _NEARLY_ALL, shares["share"] <= 1 - _NEARLY_ALL
    sold, unsold = (int(shares.filter(which)["len"].sum()) for which in (with_price, without))
    if min(sold, unsold) < _LEAST_APART or sold + unsold < _NEARLY_ALL * rows.height:
        return 1.0
    return 1 / math.comb(sold + unsold, sold)


def shared_fields(cells: pl.Series, market: Market) -> dict[str, float]:
    """Return the fields that the parts of a column's cells hold, with the share of cells; {} where it holds one alone.

    Such cells state several attributes of a pair ("43,5 / 8+ / box"): most have two to five parts.
    """
    parts = split_cells(cells.drop_nulls().unique().sort().head(LOOKED_AT))
    if parts.is_empty() or cells.drop_nulls().str.len_chars().median() > _LONGEST_SHARED:  # type: ignore[operator]
        return {}
    counts = parts.group_by("cell").len()["len"]
    if _share(counts.is_between(2, _MOST_PARTS)) < _MOSTLY_SHARED:
        return {}
    known = {
        "size_label": read_sizes(parts["part"], system="EU").filter(pl.col("foot_mm").is_not_null())[
            "size_label"
        ],
        "grade": read_grades(parts["part"], dict(market.words.grades)).filter(pl.col("grade").is_not_null())[
            "text"
        ],
        **{
            field: read_names(parts["part"], closed_words(market, field)).drop_nulls("value")["text"]
            for field in ("box", "tags")
        },
    }
    shares = {
        field: parts.filter(pl.col("part").is_in(words.implode()))["cell"].n_unique() / counts.len()
        for field, words in known.items()
    }
    found = {field: share for field, share in shares.items() if share >= _LEAST_SHARE}
    return found if len(found) > 1 else {}


def _names_of(market: Market) -> dict[str, dict[str, str]]:
    """Return for each field of names the folded words of the market and what they mean."""
    return {
        "maker": maker_words(market),
        "silhouette": silhouette_words(market),
        "era": known_words(market.eras),
        "venue": allowed_words(venue.name for venue in market.venues),
        "size_system": allowed_words(SIZE_SYSTEMS),
        **{field: closed_words(market, field) for field in CLOSED_FIELDS},
    }


def _value_shares(
    values: pl.Series,
    filled: int,
    market: Market,
    names: Mapping[str, Mapping[str, str]],
    language: str,
    *,
    said: Collection[str],
) -> dict[str, float]:
    """Return, for the fields whose values have a kind, the share of distinct values of that kind.

    Kinds that short codes or free text share with anything (notes, accessories) are not judged.
    `names` is what `_names_of` says of the market.
    """
    if values.len() == 0:
        return {}
    days = max(_share(days.is_not_null()) for days in read_in_each_order(values, language=language).values())
    forms = fold_all(values)
    shares = {field: sum(form in words for form in forms) / len(forms) for field, words in names.items()}
    shares["era"] = max(shares["era"], _share_of_years(values, market))
    shares["status"] = _share_of_statuses(values)
    shares |= dict.fromkeys(("offered_on", "closed_on", "sold_on"), days)
    shares["size_label"] = _share_of_sizes(values, filled, named=bool(said))
    shares["grade"] = _share_of_grades(values, filled, market, named=bool(said))
    shares["currency"] = _read_share(read_currencies(values), "currency_stated")
    if days > _LEAST_SHARE:
        shares |= {"size_label": 0.0, "grade": 0.0}
    is_text = values.str.contains(r"\p{L}")
    varied = min(1.0, 2 * values.len() / max(filled, 1))
    titles = _share(is_text) if "title" in said else varied * _share((values.str.len_chars() > 12) & is_text)
    shares["title"] = titles * (days < _LEAST_SHARE)
    code = values.str.contains(r"\d") & (values.str.len_chars() <= 24) & ~values.str.contains(r"\S \S+ \S")
    no_day = days < _LEAST_SHARE or bool(values.str.contains(_FIVE_DIGITS).all())
    shares["lot_ref"] = _share(code) * (1.0 if values.len() > filled / 2 else 0.5) * no_day
    shares["sale_ref"] = shares["stock_ref"] = _share(code) * no_day
    return shares


def _share_of_years(values: pl.Series, market: Market) -> float:
    """Return the share of cells that are a year in which a pair of some era was made; zero for years of sales.

    Years of sales lie together in the latest era, those of pairs in others, too.
    """
    years = years_of_cells(values.filter(values.str.contains(r"(?:19|20)\d\d"))).drop_nulls("year_from")
    over = [
        pl.col("year_from").is_between(era.first_year, era.last_year)
        for era in market.eras
        if era.last_year is not None
    ]
    if not over or years.filter(pl.any_horizontal(over)).is_empty():
        return 0.0
    return years.height / values.len()


def _share_of_statuses(values: pl.Series) -> float:
    """Return the share of cells that are a known word for how an offer ended, however it is written."""
    return _share(pl.Series([status_of(text) is not None for text in values.head(_FEW_WORDS)]))


def _share_of_sizes(values: pl.Series, filled: int, *, named: bool) -> float:
    """Return the share of labels that are shoe sizes; zero where they may as well be counts or amounts.

    Bare numbers are sizes when they differ, and go by halves or thirds within the range of one system. Without a
    heading that says so the labels must name their system, or be European sizes with halves among them.
    """
    read = read_sizes(values, system=None)
    stated = _read_share(read, "foot_mm")
    if stated >= _LEAST_SHARE:
        return stated
    may_be = read.filter(pl.col("reason").ne_missing(NOT_A_SIZE))["size_label"]

    def share_as(system: str) -> float:
        return (
            int(read_sizes(may_be, system=system)["foot_mm"].count()) / read.height if may_be.len() else 0.0
        )

    named_in_cells = values.str.contains(r"(?i)\b(?:eu|uk|us|jp)\b ?\d|\d ?\b(?:eu|uk|us|jp|cm)\b")
    if _share(named_in_cells) >= _LEAST_SHARE:
        return max(map(share_as, SIZE_SYSTEMS))
    share = max(map(share_as, SIZE_SYSTEMS))
    numbers = (
        values.str.extract(r"^\D*?(\d{1,3}(?:[.,]\d)?)").str.replace(",", ".").cast(pl.Float64).drop_nulls()
    )
    if numbers.is_empty() or float(numbers.median() or 0) < _SMALLEST_SIZE:  # type: ignore[arg-type]
        return 0.0
    if filled >= 2 * _LEAST_SIZES and values.len() < _LEAST_SIZES:
        return 0.0
    if named:
        return share
    european = share_as("EU")
    halves = bool(values.str.contains(r"[.,]5|½|[ -][12]/[23]|⅓|⅔").any())
    return european if halves and european > 0.9 and values.len() > _LEAST_SIZES else 0.0


def _share_of_grades(values: pl.Series, filled: int, market: Market, *, named: bool) -> float:
    """Return the share of cells that are grades; zero where one value alone stands in many rows.

    Bare numbers are grades only under a heading that says so.
    """
    if values.len() < 2 and filled > 3:
        return 0.0
    read = read_grades(values, dict(market.words.grades))
    if not named:
        read = read.with_columns(
            pl.when(~pl.col("text").str.contains(r"\d") | pl.col("text").str.contains(r"/ ?10$")).then(
                "grade"
            )
        )
    return _read_share(read, "grade")


def _read_share(read: pl.DataFrame, column: str) -> float:
    return 0.0 if read.height == 0 else _share(read[column].is_not_null())


def _share(holds: pl.Series) -> float:
    return int(holds.sum()) / max(holds.len(), 1)
