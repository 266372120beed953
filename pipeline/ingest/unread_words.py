"""Words of titles that no phrase of the market file reads: what a title says beyond the fields."""

import polars as pl

from pipeline.config import Market
from pipeline.ingest.cells import distinct_texts, each, folded
from pipeline.ingest.compared import THING_MARK
from pipeline.ingest.phrases import PhraseBook, phrase_book
from pipeline.ingest.title_text import lift_titles, split_clauses, tokens_of
from pipeline.ingest.typos import without_typos

BEFORE_NAMES = (
    *("by", "from", "of", "for", "ex", "mr", "mrs", "ms", "miss", "dr", "prof", "sir", "herr", "frau"),
    *("von", "vom", "de", "di", "du", "da", "del", "van", "chez", "signor", "monsieur", "madame"),
    *("fur", "durch", "aus", "pour", "par", "per", "por", "para", "door", "av", "af"),
    *("owner", "owners", "vorbesitzer", "proprietario", "duena", "dueno"),
)
"""Words right after which a person may be named ("signed by Jane Roe")."""

PROVENANCE = (
    *("estate", "collection", "collector", "property", "provenance", "consigned", "family", "heirs"),
    *("nachlass", "sammlung", "sammler", "besitz", "eigentum", "provenienz", "familie", "erben"),
    *("succession", "collectionneur", "propriété", "heritiers", "famille"),
    *("eredi", "collezion", "proprietà", "provenienza", "famiglia"),
    *("herencia", "herederos", "colección", "propiedad", "procedencia", "familia"),
    *("旧蔵", "所蔵", "遺品", "愛蔵", "家蔵", "コレクション", "コレクター", "氏"),
)
"""What says whose a pair was, as words or parts of words ("Privatsammlung"): what stands beside it names a person."""

_CUE, _FILLER, _BEFORE_NAME, _READ, _MADE_IN, _SPACE, _THING, _OWNED = map(chr, range(0x0E, 0x16))
"""Control characters that stand for what is known of a clause, each a word of its own; _SPACE is within a word."""

_CUES = ["not", "not yet", "unsure", "doubt"]
_DENIED_BEFORE = rf" [^ ]+  {_CUE}  [{_READ}|,] "
_OF_A_THING = rf" [^ ]+  {_THING} "
_DENIED_AFTER = rf" {_CUE} (?: {_FILLER} )*(?: [^ ]+ )"
_WHOSE = rf"(?: [^ |,{_OWNED}]+ )* {_OWNED} (?: [^ |,]+ )*"
_PERSON = rf"{_WHOSE}| {_BEFORE_NAME} (?: {_FILLER} )*(?: \p{{L}}+ ){{1,3}}"
_WORD = rf"^[\p{{L}}{_SPACE}]{{2,}}$"


def unread_words(titles: pl.Series, market: Market) -> pl.DataFrame:
    """Return the words, and pairs of words side by side, that titles say and no phrase of the market file reads.

    One row per distinct title and phrase: title, phrase String (as titles are compared: without case and accents),
    as_name Boolean (where persons are named: beside a word of PROVENANCE, up to the next comma and in the clause that
    follows, or right after one of BEFORE_NAMES). No word of either list, nothing with a digit, no single letter, no
    word that holds sentences together, none right before a size or a stamp ("label"), and nothing that a title denies
    or doubts ("not signed", "sample?"). "made in" and the word after it are one phrase.
    """
    book = phrase_book(market)
    lifted = lift_titles(distinct_texts(titles, "title")).with_row_index("id")
    clauses = split_clauses(lifted.select("id", "rest"))
    distinct = clauses.select("clause").unique(maintain_order=True).with_row_index("clause_id")
    tokens, _ = without_typos(
        distinct.select(id="clause_id", tokens=tokens_of(pl.col("clause"), signed=book.signed)), book
    )
    marked = tokens.select(clause_id="id", marked=_marked(pl.col("tokens"), book))
    named = marked.select(
        "clause_id", token=pl.col("marked").str.extract_all(_PERSON).list.join(f" {_READ} "), as_name=True
    )
    others = marked.select(
        "clause_id", token=pl.col("marked").str.replace_all(_PERSON, f" {_READ} "), as_name=False
    )
    ends_open = marked.select(
        "clause_id", open=pl.col("marked").str.contains(rf" {_OWNED} | {_BEFORE_NAME} +\| $")
    )
    said_of_owner = pl.col("open").shift(1, fill_value=False) & (pl.col("id") == pl.col("id").shift(1))
    return (
        clauses.join(distinct, on="clause", maintain_order="left")
        .join(ends_open, on="clause_id", maintain_order="left")
        .with_columns(of_owner=said_of_owner.fill_null(value=False))
        .join(pl.concat([_phrases(named), _phrases(others)]), on="clause_id")
        .join(lifted.select("id", "title"), on="id")
        .group_by("title", "phrase")
        .agg((pl.col("as_name") | pl.col("of_owner")).any())
    )


def known_words(market: Market) -> pl.DataFrame:
    """Return the words that titles are read by: word (without case and accents), name (whether it is in a name).

    Names are those of makers, silhouettes and colourways.
    """
    book = phrase_book(market)
    names = book.meanings.filter(pl.col("kind").is_in(["maker", "silhouette", "colourway"]))["phrase"]
    further = pl.DataFrame({"phrase": [f" {word} " for word in each(BEFORE_NAMES, folded)], "name": False})
    return (
        pl.concat([book.roles.select("phrase", name=pl.col("phrase").is_in(names.implode())), further])
        .select("name", word=pl.col("phrase").str.extract_all(r"\p{L}+"))
        .explode("word")
        .drop_nulls()
        .group_by("word")
        .agg(pl.col("name").any())
    )


def _marked(tokens: pl.Expr, book: PhraseBook) -> pl.Expr:
    """Return clauses with a mark for each phrase that is known, and without what they deny."""
    marks = pl.col("role").replace_strict(
        dict.fromkeys(_CUES, _CUE) | {"filler": _FILLER}, default=_READ, return_dtype=pl.String
    )
    known = pl.concat(
        [
            pl.DataFrame(
                {
                    "phrase": [" made  in ", f" {THING_MARK} ", " , ", " | "],
                    "mark": [_MADE_IN, _THING, ",", "|"],
                }
            ),
            pl.DataFrame(
                {"phrase": [f" {word} " for word in each(BEFORE_NAMES, folded)], "mark": _BEFORE_NAME}
            ),
            book.roles.select("phrase", mark=marks),
        ]
    ).unique("phrase", keep="first", maintain_order=True)
    longest_first = known.sort(pl.col("phrase").str.len_chars(), "phrase", descending=[True, False])
    return (
        tokens.str.replace_many(
            longest_first["phrase"].to_list(),
            [f" {mark} " for mark in longest_first["mark"]],
            leftmost=True,
        )
        .str.replace_all(rf" [^ ]*(?:{'|'.join(each(PROVENANCE, folded))})[^ ]* ", f" {_OWNED} ")
        .str.replace_all(rf" {_MADE_IN}  (\p{{L}}{{2,}}) ", f" made{_SPACE}in{_SPACE}$1 ")
        .str.replace_all(_OF_A_THING, f" {_READ} ")
        .str.replace_all(_DENIED_BEFORE, f" {_READ} ")
        .str.replace_all(_DENIED_AFTER, f" {_READ} ")
    )


def _phrases(clauses: pl.DataFrame) -> pl.DataFrame:
    """Return clause_id, phrase, as_name: the words of clauses (`token`), and pairs of them side by side."""
    words = (
        clauses.with_columns(pl.format("{} {}", pl.col("token"), pl.lit(_READ)).str.extract_all(r"[^ ]+"))
        .explode("token")
        .with_columns(is_word=pl.col("token").str.contains(_WORD))
    )
    both = pl.col("is_word") & pl.col("is_word").shift(-1, fill_value=False)
    single = words.filter("is_word").select("clause_id", "as_name", phrase="token")
    pairs = words.select(
        "clause_id", "as_name", both, phrase=pl.concat_str("token", pl.col("token").shift(-1), separator=" ")
    )
    return (
        pl.concat([single, pairs.filter("is_word").select(single.columns)])
        .with_columns(pl.col("phrase").str.replace_all(_SPACE, " ", literal=True))
        .unique()
    )
