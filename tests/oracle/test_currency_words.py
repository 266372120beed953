"""The words that currencies go by are those of Unicode CLDR.

`python -m tests.oracle.test_currency_words` writes the file of words again when babel has moved.
"""

import polars as pl
from babel import Locale
from babel.core import get_global
from babel.languages import get_official_languages
from babel.localedata import exists
from polars.testing import assert_frame_equal

from pipeline.ingest.currency_words import FILE, written_words

_STILL_IN_USE = 2000


def words_of_cldr() -> pl.DataFrame:
    """Return word, currencies: what the money of a country is called in its official languages.

    Symbols, names and plural names of every currency that was legal tender in 2000 or since, but no ISO codes.
    """
    rows = set[tuple[str, str]]()
    for territory, currencies in get_global("territory_currencies").items():
        codes = [
            code
            for code, _, until, is_tender in currencies
            if is_tender and (until is None or until[0] >= _STILL_IN_USE)
        ]
        for language in get_official_languages(territory, de_facto=True):
            name = next((each for each in (f"{language}_{territory}", language) if exists(each)), None)
            for code in codes if name else []:
                locale = Locale.parse(name)
                plurals = locale._data["currency_names_plural"].get(code, {}).values()
                named = (locale.currency_symbols.get(code), locale.currencies.get(code), *plurals)
                rows |= {(word, code) for word in named if word}
    words = pl.DataFrame(sorted(rows), schema=["word", "currency"], orient="row").with_columns(
        written_words(pl.col("word"))
    )
    is_code = pl.col("word").str.to_uppercase().is_in(words["currency"].unique().implode())
    return (
        words.filter(~is_code, pl.col("word") != "")
        .group_by("word")
        .agg(pl.col("currency").unique().sort().str.join(" ").alias("currencies"))
        .sort("word")
    )


def test_the_words_for_currencies_are_those_of_cldr() -> None:
    assert_frame_equal(pl.read_csv(FILE, quote_char=None), words_of_cldr())


if __name__ == "__main__":
    words_of_cldr().write_csv(FILE, quote_style="never")
