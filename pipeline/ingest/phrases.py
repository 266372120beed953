"""The phrase book: every word of the market file that a title may use, with what it means and its role."""

from dataclasses import dataclass, field
from functools import lru_cache

import polars as pl

from pipeline.config import Market
from pipeline.ingest.compared import MINUS_MARK, PLUS_MARK, as_compared, compared_list
from pipeline.ingest.entries import SET_KINDS, Entry, entries
from pipeline.ingest.near_names import market_names
from pipeline.ingest.spelling import Spelling

PREPOSED = frozenset({"no", "not", "never", "neither", "without", "un", "non", "free of", "free from"})
"""Not-words that come before what they deny; the others ("missing", "gone") can follow it as well."""

POSTPOSED = frozenset({"style", "type", "inspired"})
"""Unsure words that bear on what stands before them, whatever follows ("retro style lace up")."""

VERBAL = frozenset({"not", "nicht"})
"""Not-words that can deny what stands before them by an unknown word after them ("not recommended")."""


_NOTHING = r"[^\s\S]"
"""A pattern that matches nothing."""


@dataclass(frozen=True)
class PhraseBook:
    """`meanings`: one row per phrase and meaning (the fields of Entry). `roles`: one row per phrase.

    `spelling` knows the words of mentions and nouns in spite of a typing error, and `names` are those that may be
    misspelt (see `near_names`); both are empty where the market file wants no typing error fixed. `signed` is a
    pattern of the words whose sign is a part of them ("LS+"), `numbered` of the phrases that hold a number and
    `treated` of the words for what was done to a pair.
    """

    meanings: pl.DataFrame
    roles: pl.DataFrame
    spelling: Spelling
    names: pl.DataFrame
    signed: str
    numbered: str
    treated: str

    @property
    def patterns(self) -> pl.Expr:
        """Return the phrases, each word between its own two spaces, the longest first."""
        return pl.lit(self.roles["phrase"]).implode()


@dataclass(frozen=True)
class _Saying:
    """A market file, equal to another that says the same."""

    said: str
    market: Market = field(compare=False, repr=False)


def phrase_book(market: Market, further: tuple[Entry, ...] = ()) -> PhraseBook:
    """Return the phrase book of a market file, with further entries.

    Names count as phrases. An era's name of one word counts only with "run", "era", "series" or "edition" after it
    ("first owner" is no era). Where a phrase is both a mention and another thing, it is the mention.
    """
    return _book(_Saying(market.model_dump_json(), market), further)


@lru_cache(maxsize=8)
def _book(saying: _Saying, further: tuple[Entry, ...]) -> PhraseBook:
    market = saying.market
    rank = {"mention": 0, "noun": 1}
    phrases = pl.DataFrame(
        [vars(entry) for entry in (*entries(market), *further)],
        schema=dict.fromkeys(("phrase", "role", "kind", "value", "silhouette"), pl.String)
        | {"denied": pl.Boolean, "written": pl.String},
    )
    compared = (
        phrases.with_columns(phrase=as_compared(pl.col("phrase")))
        .filter(pl.col("phrase") != "")
        .with_columns(_rank=pl.col("role").replace_strict(rank, default=2, return_dtype=pl.Int8))
        .filter(pl.col("_rank") == pl.col("_rank").min().over("phrase"))
        .unique(maintain_order=True)
    )
    preposed = pl.col("phrase").is_in(compared_list(PREPOSED))
    roles = (
        compared.unique("phrase", keep="first", maintain_order=True)
        .select(
            pl.concat_str(pl.lit(" "), pl.col("phrase").str.replace_all(" ", "  "), pl.lit(" ")).alias(
                "phrase"
            ),
            "role",
            preposed=preposed,
            verbal=pl.col("phrase").is_in(compared_list(VERBAL)),
            postposed=pl.col("phrase").is_in(compared_list(POSTPOSED)),
            of_set=pl.col("kind").is_in(SET_KINDS),
            names_maker=pl.col("kind") == "maker",
            lasting_fact=~pl.col("kind").is_in([*SET_KINDS, "treatments"]),
        )
        .sort(pl.col("phrase").str.len_chars(), "phrase", descending=[True, False])
    )
    meanings = compared.filter(pl.col("role").is_in(["mention", "noun"])).select(
        pl.concat_str(pl.lit(" "), pl.col("phrase").str.replace_all(" ", "  "), pl.lit(" ")).alias("phrase"),
        "kind",
        "value",
        "silhouette",
        "denied",
        "written",
    )
    named = roles.filter(pl.col("role").is_in(["mention", "noun"]))
    corrected = _words_of(named) if market.words.fix_typos else []
    spelling = Spelling.of(corrected, known=set(_words_of(roles)))
    names = market_names(market)
    own = ~meanings["kind"].is_in(["grade", "thing"])
    return PhraseBook(
        meanings,
        roles,
        spelling,
        names if market.words.fix_typos else names.clear(),
        signed=_signed_words(meanings),
        numbered=_pattern_of(meanings.filter(own & meanings["phrase"].str.contains(r"\p{N}"))),
        treated=_pattern_of(meanings.filter(meanings["kind"].is_in(["treatments", "restored"]))),
    )


def _pattern_of(phrases: pl.DataFrame) -> str:
    """Return the pattern of the phrases in a folded text; one that matches nothing where there are none."""
    written = phrases["phrase"].str.strip_chars().unique().str.escape_regex()
    return _any_of(written.str.replace_all(r" +", r"[^\p{L}\p{N}]+"), ends=r"\b")


def _signed_words(meanings: pl.DataFrame) -> str:
    """Return the pattern of the words before a sign in the phrases of grades; one that matches nothing without any."""
    last = (
        meanings.filter(pl.col("kind") == "grade word")["phrase"]
        .str.extract(rf" ([^ ]+)  [{PLUS_MARK}{MINUS_MARK}] $")
        .drop_nulls()
        .unique()
    )
    return _any_of(last.str.escape_regex(), ends="")


def _any_of(patterns: pl.Series, *, ends: str) -> str:
    """Return one pattern for all, the longest first, from the beginning of a word."""
    longest_first = sorted(patterns, key=lambda pattern: (-len(pattern), pattern))
    return rf"\b(?:{'|'.join(longest_first)}){ends}" if longest_first else _NOTHING


def _words_of(phrases: pl.DataFrame) -> list[str]:
    """Return the words of the phrases as they are compared."""
    return (
        phrases["phrase"]
        .str.extract_all(r"[^ ]+")
        .explode(empty_as_null=True)
        .unique()
        .drop_nulls()
        .to_list()
    )
