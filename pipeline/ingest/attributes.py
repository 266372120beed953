"""What the pair is: each attribute from its column, else from the title, with where it came from."""

from collections.abc import Mapping

import polars as pl

from pipeline.alike import fold_keys
from pipeline.config import Market
from pipeline.ingest.fields import is_list
from pipeline.ingest.grades import read_grades
from pipeline.ingest.lookup import look_up
from pipeline.ingest.names import (
    CLOSED_FIELDS,
    closed_words,
    known_words,
    maker_words,
    read_colourways,
    read_name_lists,
    read_names,
    silhouette_words,
)
from pipeline.ingest.near_names import corrected_cells, names_of_words
from pipeline.ingest.years import SEVERAL_ERAS, SPANS, eras_of_spans, years_of_cells
from pipeline.schema import COLUMN, LISTS, UNKNOWN

NO_WORD = "no name or phrase of the market file"


def read_stated(
    fields: pl.DataFrame,
    market: Market,
    *,
    list_mark: str,
    words: Mapping[str, Mapping[str, str]],
    titled: pl.Series | None = None,
    fix_typos: bool = False,
) -> dict[str, pl.DataFrame]:
    """Return what is stated of each attribute of a pair but its size, row by row: value, unread (why, String).

    Of a name, and of a grade, `taken` (String) is what was written where it was taken for another word: a name that
    is nearly one other, with `fix_typos`, and a grade word with a sign that the market file does not give it.

    The one reader of the words by which a pair is described, in a file's cells and on the command line: each
    takes the names, phrases and grade words of the market file. `fields` are the source fields as text; `words`
    are more words for the entries of lists, by field (an export map's). A colourway is that of the stated
    silhouette, else of the one in `titled`. An era may be stated by its years: then `by_year` is true. Sizes are
    read by `pipeline.ingest.sizes`.
    """
    known_of = vocabulary(market)
    stated = {field: _stated(fields, field, known) for field, known in known_of.items()}
    for field in ("maker", "silhouette"):
        meant = _near(fields[field], stated[field], field, known_of[field], fix_typos=fix_typos)
        stated[field] = _with_typos(fields[field], stated[field], meant)
    for field, known in list_vocabulary(market).items():
        stated[field] = _stated_list(
            fields, field, list_mark, known | fold_keys(dict(words.get(field, {}))), market
        )
    stated["era"] = _with_years(fields["era"], stated["era"], market)
    grades = look_up(fields["grade"], read_grades(fields["grade"], dict(market.words.grades)))
    stated["grade"] = pl.DataFrame(
        {"value": grades["grade"], "unread": grades["reason"], "taken": grades["stepped"]}
    )
    named = stated["silhouette"]["value"]
    silhouettes = named if titled is None else pl.select(pl.coalesce(named, titled)).to_series()
    stated["colourway"] = _stated_colourways(fields["colourway"], silhouettes, market, fix_typos=fix_typos)
    return stated


def read_attributes(stated: Mapping[str, pl.DataFrame], texts: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Return, row by row, each attribute, `<attribute>_origin` and `<attribute>_unread` (why, String).

    `stated` is what the fields say (see `read_stated`), `texts` what title and notes say (see `said_in_texts`). Era
    and size are left to `pipeline.ingest.production` and `pipeline.ingest.labels`.
    """
    silhouettes = pl.select(pl.coalesce(stated["silhouette"]["value"], texts["silhouette"])).to_series()
    columns: dict[str, pl.Series] = {}
    for field, read in stated.items():
        if field != "era":
            columns |= _settle(field, read, texts[field], texts[f"{field}_from"])
    maker = pl.Series("maker", silhouettes, dtype=pl.String).replace_strict(
        {item.name: item.maker for item in market.silhouettes}, default=None, return_dtype=pl.String
    )
    return pl.DataFrame(columns).with_columns(
        pl.coalesce("maker", maker).alias("maker"),
        pl.when(pl.col("maker").is_null() & maker.is_not_null())
        .then(pl.lit("inferred"))
        .otherwise("maker_origin")
        .alias("maker_origin"),
    )


def vocabulary(market: Market) -> dict[str, dict[str, str]]:
    """Return, for each attribute of single words, folded word → value."""
    return {
        "maker": maker_words(market),
        "silhouette": silhouette_words(market),
        "era": known_words(market.eras),
        **{field: closed_words(market, field) for field in CLOSED_FIELDS},
    }


def list_vocabulary(market: Market) -> dict[str, dict[str, str]]:
    """Return, for each attribute that is a list, folded word → name of an entry."""
    return {field: known_words(getattr(market, field)) for field in LISTS}


def _stated(fields: pl.DataFrame, field: str, words: Mapping[str, str]) -> pl.DataFrame:
    return _unread_where_unknown(
        fields[field], look_up(fields[field], read_names(fields[field], words))["value"]
    )


def _unread_where_unknown(texts: pl.Series, values: pl.Series) -> pl.DataFrame:
    """Return value and unread (why) of stated cells."""
    return pl.DataFrame({"text": texts, "value": values}).select(
        "value",
        unread=pl.when(pl.col("text").is_not_null() & pl.col("value").is_null()).then(pl.lit(NO_WORD)),
    )


def _stated_colourways(
    texts: pl.Series, silhouettes: pl.Series, market: Market, *, fix_typos: bool
) -> pl.DataFrame:
    stated = _unread_where_unknown(texts, read_colourways(silhouettes, texts, market))
    words = {
        phrase: name
        for silhouette in market.silhouettes
        for phrase, name in known_words(silhouette.colourways).items()
    }
    meant = _near(texts, stated, "colourway", words, fix_typos=fix_typos)
    known = read_colourways(silhouettes, meant, market) if meant.count() else meant
    return _with_typos(texts, stated, known)


def _near(
    texts: pl.Series, stated: pl.DataFrame, field: str, words: Mapping[str, str], *, fix_typos: bool
) -> pl.Series:
    """Return, row by row, the name that an unread cell is nearly; null where there is none, or nothing is fixed."""
    unread = texts.filter(stated["unread"].is_not_null())
    if not fix_typos or unread.is_empty():
        return pl.Series("meant", [None], dtype=pl.String).new_from_index(0, texts.len())
    return look_up(texts, corrected_cells(unread, names_of_words(field, words)))["meant"]


def _with_typos(texts: pl.Series, stated: pl.DataFrame, meant: pl.Series) -> pl.DataFrame:
    """Return value, unread, taken of a column whose unread cells mean the names in `meant`."""
    by_typo = pl.col("value").is_null() & pl.col("meant").is_not_null()
    return stated.with_columns(texts.alias("text"), meant.alias("meant")).select(
        pl.coalesce("value", "meant").alias("value"),
        unread=pl.when(~by_typo).then("unread"),
        taken=pl.when(by_typo).then("text"),
    )


def _with_years(texts: pl.Series, stated: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Return value, unread, by_year: what words state of the era, and where none does, what its years say."""
    years = look_up(texts, years_of_cells(texts))
    spans = years.with_columns(only=pl.lit(None, dtype=pl.List(pl.String)))
    eras = eras_of_spans(spans.select(*SPANS, "only"), market.eras)
    by_year = pl.col("value").is_null() & pl.col("era").is_not_null()
    unread = (
        pl.when(by_year)
        .then(None)
        .when(pl.col("unread").is_not_null() & pl.col("odds").is_not_null())
        .then(pl.format(SEVERAL_ERAS + "{}", "odds"))
        .when(pl.col("unread").is_not_null() & pl.col("year_from").is_not_null())
        .then(pl.lit("no era of the market file has that year"))
        .otherwise("unread")
    )
    return pl.concat([stated, years, eras], how="horizontal").select(
        pl.coalesce("value", "era").alias("value"), unread.alias("unread"), by_year.alias("by_year")
    )


def _stated_list(
    fields: pl.DataFrame, field: str, list_mark: str, words: Mapping[str, str], market: Market
) -> pl.DataFrame:
    lists = read_name_lists(fields[field], words, market.words.not_words, list_mark)
    return look_up(fields[field], lists).select(
        value="names",
        unread=pl.when(pl.col("unread").is_not_null()).then(pl.format("{}: " + NO_WORD, pl.col("unread"))),
    )


def _settle(
    field: str, stated: pl.DataFrame, from_text: pl.Series, source: pl.Series
) -> dict[str, pl.Series]:
    """Return the attribute, its origin, and why its cell was not read; `source` says which text it is from.

    A list cell of which only a part was read is not known whole: it counts as stated with what was read.
    """
    closed = COLUMN[field].allowed is not None and not is_list(field)
    values = pl.DataFrame(
        {
            "stated": stated["value"],
            "in_text": from_text.cast(COLUMN[field].dtype),
            "source": source,
            "unread": stated["unread"],
        }
    )
    says = {
        name: pl.col(name).is_not_null() & ((pl.col(name) != UNKNOWN) if closed else pl.lit(True))
        for name in ("stated", "in_text")
    }
    if is_list(field):
        says["stated"] = says["stated"] & ((pl.col("stated").list.len() > 0) | pl.col("unread").is_null())
    value = pl.when(says["stated"]).then("stated").when(says["in_text"]).then("in_text")
    settled = values.select(
        value=value.otherwise(pl.lit(UNKNOWN)) if closed else value,
        origin=pl.when(says["stated"])
        .then(pl.lit("stated"))
        .when(says["in_text"])
        .then("source")
        .otherwise(pl.lit(UNKNOWN)),
    )
    return {
        field: settled["value"].alias(field),
        f"{field}_origin": settled["origin"].alias(f"{field}_origin"),
        f"{field}_unread": stated["unread"].alias(f"{field}_unread"),
    }
