"""Which words of titles may say something of a pair: no names, no house style, no mere parts of others."""

import re
from collections.abc import Set as AbstractSet
from dataclasses import dataclass

import polars as pl

from pipeline.config import Market
from pipeline.ingest.capitals import spellings
from pipeline.ingest.cells import each, folded
from pipeline.ingest.currency_words import signs_of
from pipeline.ingest.unread_words import known_words, unread_words

FEWEST_SALES = 10
FEWEST_DAYS = 5
"""Sales, and days of sale, that a word needs: one collection that is sold in one day is no attribute."""

FEWEST_OF_VENUE = 30
"""Sales of a venue from which it says how often its titles have a word."""

HOUSE_STYLE = 0.8
"""A word is the style of a house where more than this share of its use is there."""

MOST_AS_NAME = 0.2
"""The share of its uses that a word may have where persons are named."""

LEAST_SMALL = 0.5
"""The share of its uses that a word has in small letters at least, where capitals say something: else it is a name."""

MOST_CAPITALS = 0.2
"""The share of known words, no names, with a capital in titles that say a word: with more its capital says nothing."""

FEWEST_CLEAR = 3
"""Uses where capitals say something from which a word that is small there is no name."""

FEWEST_VENUES, FEWEST_AT_EACH = 3, 3
"""Venues, and sales at each, of a word of which capitals do not say whether it is a name."""

ONE_THING = 0.9
"""A word that stands in one pair of words in at least this share of its sales is that pair."""

MOST_WORDS = 300
"""The most words whose value is estimated, those in most sales."""

_FINE, _PERHAPS, _NAME = 0, 1, 2
"""What the letters and places of a word say of whether it is a name; of a phrase, the most that any word says."""


@dataclass(frozen=True)
class Candidates:
    """`words`: phrase, written, sales, days, venues, example (of the latest sale), the most frequent first.

    An example is the phrase with the known words near it, no whole title, which may name a person.
    `uses`: record_id, phrase of the sales whose titles say them. `left_out` counts by reason those that are in enough
    sales and are no candidates. `venues` are the venues with enough sales to know the style of a house.
    """

    words: pl.DataFrame
    uses: pl.DataFrame
    left_out: dict[str, int]
    venues: int


def find_candidates(sales: pl.DataFrame, market: Market) -> Candidates:
    """Return the words, and pairs of words, whose value can be learned from titles.

    `sales` holds record_id, title, venue, sold_on.
    """
    known = known_words(market)
    venues = sales.group_by("venue").len("_of_venue").filter(pl.col("_of_venue") >= FEWEST_OF_VENUE)
    uses = (
        sales.lazy()
        .select("record_id", "title", "venue", "sold_on")
        .join(unread_words(sales["title"], market).lazy(), on="title")
        .collect()
    )
    counted = (
        uses.sort("sold_on", "record_id", descending=True)
        .group_by("phrase")
        .agg(
            sales=pl.len(),
            days=pl.col("sold_on").n_unique(),
            venues=pl.col("venue").n_unique(),
            as_name=pl.col("as_name").mean(),
            example=pl.col("title").first(),
        )
        .filter(pl.col("sales") >= FEWEST_SALES, pl.col("days") >= FEWEST_DAYS)
    )
    uses = uses.join(counted.select("phrase"), on="phrase", how="semi")
    judged = (
        counted.join(_styles(uses, venues, sales.height), on="phrase", how="left")
        .join(_spread(uses), on="phrase", how="left")
        .pipe(_with_names, spellings(sales["title"], known))
        .with_columns(reason=_reason(market, sales, several=venues.height > 1))
    )
    kept = judged.filter(pl.col("reason") == "")
    chosen = kept.join(_parts_of_others(kept, uses), on="phrase", how="anti").sort(
        "sales", "phrase", descending=[True, False]
    )
    counts = judged.filter(pl.col("reason") != "").group_by("reason").len().sort("reason")
    words = chosen.head(MOST_WORDS).select("phrase", "written", "sales", "days", "venues", "example")
    shown = set(known["word"])
    examples = [
        near_words(title, phrase, shown) for phrase, title in words.select("phrase", "example").iter_rows()
    ]
    words = words.with_columns(pl.Series("example", examples, dtype=pl.String))
    return Candidates(
        words,
        uses.join(words, on="phrase", how="semi").select("record_id", "phrase"),
        dict(counts.iter_rows()) | {"beyond the most frequent": chosen.height - words.height},
        venues.height,
    )


def near_words(title: str, phrase: str, shown: AbstractSet[str]) -> str:
    """Return a phrase as a title writes it, with the two words before and after it; "…" for those not among `shown`."""
    pieces = re.findall(r"[^\W_]+|[,;]", title)
    compared = each(pieces, folded)
    length = phrase.count(" ") + 1
    places = range(len(pieces))
    starts = [place for place in places if " ".join(compared[place : place + length]) == phrase]
    if not starts:
        return phrase
    start = starts[0]
    around = [
        piece if start <= place < start + length or piece in ",;" or compared[place] in shown else "…"
        for place, piece in enumerate(pieces)
    ]
    before, after = around[:start], around[start + length :]
    near = [*_two_words(before[::-1])[::-1], *around[start : start + length], *_two_words(after)]
    return re.sub(r"…(?: …)+", "…", " ".join(near).replace(" ,", ",").replace(" ;", ";").strip(" ,;"))


def _two_words(pieces: list[str]) -> list[str]:
    """Return the pieces up to the second word."""
    words = [place for place, piece in enumerate(pieces) if piece not in ",;"]
    return pieces[: words[1] + 1] if len(words) > 1 else pieces


def _reason(market: Market, sales: pl.DataFrame, *, several: bool) -> pl.Expr:
    """Return why a phrase is no candidate, "" for one that is."""
    money = [word for words in signs_of(None) for word in words]
    venues = [*(venue.name for venue in market.venues), *sales["venue"].unique()]
    said = (
        pl.Series("word", [*money, *venues], dtype=pl.String)
        .to_frame()
        .select(folded(pl.col("word")).str.extract_all(r"\p{L}+").explode().unique())
        .to_series()
    )
    of_house = (pl.col("style") > HOUSE_STYLE) | (pl.col("venues") < 2) | pl.col("style").is_null()
    return (
        pl.when(pl.col("phrase").str.split(" ").list.eval(pl.element().is_in(said.implode())).list.any())
        .then(pl.lit("venues and money"))
        .when(of_house & several)
        .then(pl.lit("one venue's style"))
        .when(pl.col("named") == _NAME)
        .then(pl.lit("names"))
        .when(pl.col("named") == _PERHAPS)
        .then(pl.lit("perhaps names"))
        .otherwise(pl.lit(""))
    )


def _styles(uses: pl.DataFrame, venues: pl.DataFrame, sales: int) -> pl.DataFrame:
    """Return phrase, style: the largest share of a venue in the use of a phrase.

    Each venue counts by its own sales; one that has no more than half of all sales also as it is, so that a word of a
    large house is not missed.
    """
    rates = (
        uses.group_by("phrase", "venue")
        .len()
        .join(venues, on="venue", how="left")
        .with_columns(_rate=pl.col("len") / pl.col("_of_venue"))
    )
    plainly = pl.when(pl.col("_of_venue").fill_null(0) <= sales / 2).then(pl.col("len"))
    return rates.group_by("phrase").agg(
        style=pl.max_horizontal(
            pl.col("_rate").max() / pl.col("_rate").sum(), plainly.max() / pl.col("len").sum()
        )
    )


def _spread(uses: pl.DataFrame) -> pl.DataFrame:
    """Return phrase, spread: at how many venues a phrase is in enough sales."""
    often = uses.group_by("phrase", "venue").len().filter(pl.col("len") >= FEWEST_AT_EACH)
    return often.group_by("phrase").agg(spread=pl.len())


def _with_names(counted: pl.DataFrame, spelt: pl.DataFrame) -> pl.DataFrame:
    """Return phrases with written (as most titles write them) and named: _FINE, or whether a word of it is a name.

    A word is a name where it stands as one, or has a capital in titles that write other words small. Where capitals
    do not say it (a language that writes nouns with capitals, titles in capitals only or without any, a script without
    letters of two kinds), a word may be a name unless several venues say it, and not beside another unknown word.
    """
    known_at_venues = pl.col("spread").fill_null(0) >= FEWEST_VENUES
    alone = pl.col("beside") <= MOST_AS_NAME * pl.col("uses")
    small = (pl.col("clear") >= FEWEST_CLEAR) & (pl.col("small") >= LEAST_SMALL * pl.col("clear"))
    nouns_too = (pl.col("common") > 0) & (pl.col("common_capitals") >= MOST_CAPITALS * pl.col("common"))
    capital = (pl.col("large") > pl.col("small")) & ~nouns_too
    verdict = (
        pl.when(pl.col("as_name") > MOST_AS_NAME)
        .then(_NAME)
        .when(small)
        .then(_FINE)
        .when(capital)
        .then(_NAME)
        .when(known_at_venues & alone)
        .then(_FINE)
        .otherwise(_PERHAPS)
    )
    words = (
        counted.filter(~pl.col("phrase").str.contains(" ", literal=True))
        .select("phrase", "sales", "as_name", "spread")
        .join(spelt, left_on="phrase", right_on="word", how="inner")
        .select(pl.col("phrase").alias("word"), "sales", "uses", "beside", verdict=verdict)
    )
    forms = spelt.select("word", "written", _alone=alone)
    made = pl.col("phrase").str.starts_with("made in ")
    parts = (
        counted.select("phrase", "spread", of="sales", word=pl.col("phrase").str.split(" "))
        .explode("word")
        .join(words, on="word", how="left", maintain_order="left")
        .join(forms, on="word", how="left", maintain_order="left")
        .group_by("phrase", maintain_order=True)
        .agg(
            written=pl.coalesce("written", "word").str.join(" "),
            verdict=pl.col("verdict").fill_null(_PERHAPS).max(),
            _bound=(pl.len() > 1) & (pl.col("of") >= ONE_THING * pl.col("sales")).all(),
            _of_place=pl.col("_alone").last().fill_null(value=False),
            _apart=pl.col("spread").first().fill_null(0) < FEWEST_VENUES,
        )
    )
    inseparable = parts.filter(pl.col("_bound") & pl.col("_apart"))["phrase"]
    of_inseparable = inseparable.str.split(" ").explode()
    perhaps = pl.col("phrase").is_in(pl.concat([inseparable, of_inseparable]).implode())
    return counted.join(parts, on="phrase", maintain_order="left").with_columns(
        named=pl.when(pl.col("as_name") > MOST_AS_NAME)
        .then(_NAME)
        .when(made)
        .then(pl.when("_of_place").then(_FINE).otherwise(_PERHAPS))
        .otherwise(pl.max_horizontal("verdict", pl.when(perhaps).then(_PERHAPS).otherwise(_FINE)))
    )


def _parts_of_others(kept: pl.DataFrame, uses: pl.DataFrame) -> pl.DataFrame:
    """Return the phrases that say no more than another: words of one pair of words, and phrases in the same sales."""
    pairs = (
        kept.filter(pl.col("phrase").str.contains(" ", literal=True))
        .select(word=pl.col("phrase").str.split(" "), of="sales")
        .explode("word")
    )
    words = (
        pairs.join(kept, left_on="word", right_on="phrase")
        .filter(pl.col("of") >= ONE_THING * pl.col("sales"))
        .select(phrase="word")
    )
    twins = (
        uses.join(kept, on="phrase", how="semi")
        .with_columns(pl.col("record_id").rank("dense"))
        .group_by("phrase")
        .agg(pl.col("record_id").sort().implode().hash().first())
        .with_columns(_length=pl.col("phrase").str.len_chars())
        .sort("_length", "phrase", descending=[True, False])
        .filter(pl.col("record_id").is_duplicated() & ~pl.col("record_id").is_first_distinct())
        .select("phrase")
    )
    return pl.concat([words, twins])
