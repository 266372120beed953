"""What a title says of the pair: each attribute by the owner's own phrases, null where the title does not say."""

from collections.abc import Mapping

import polars as pl

from pipeline.config import Market
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.entries import SET_KINDS
from pipeline.ingest.mentions import find_mentions
from pipeline.ingest.near_names import NAME_KINDS
from pipeline.ingest.phrases import PhraseBook, phrase_book
from pipeline.ingest.title_text import lift_titles, split_clauses, tokens_of
from pipeline.ingest.typos import without_typos
from pipeline.ingest.years import SPANS, copies_another, eras_of_spans, may_hold_years, years_of_texts
from pipeline.schema import CLOSED_FIELDS

SINGLE_KINDS = ("maker", "silhouette", "era", *(field for field in CLOSED_FIELDS if field not in SET_KINDS))
LIST_KINDS = {"parts": None, "defects": "flaw", "treatments": "restored"}
"""Each list attribute, with the kind whose denial says that the list is empty."""

_WITH = " with "
_OF_WHAT_STANDS_BEFORE = [" in ", " is ", " are ", " has ", " were ", " all ", " still "]
_ARTICLES = [" a ", " an ", " the "]
_LINKS = [" is ", " are ", " has ", " have ", " was ", " were "]
_NOT_OF_THE_PAIR = [*SET_KINDS, "overlay", "piece", "box piece"]
"""A word of condition right before one of these is its, not the pair's ("good box")."""


def read_titles(titles: pl.Series, market: Market) -> pl.DataFrame:
    """Read what titles say.

    Returns one row per distinct non-null title: title, maker, silhouette, colourway, era, size_label,
    size_system String, grade Float64, each of CLOSED_FIELDS String, parts, defects, treatments List(String),
    stamp_text String. Null where the title does not say, or says two things that contradict each other (two
    silhouettes, two eras); a list is empty where the title says that there is nothing ("never restored", "no
    flaws"). Size label and stamp are verbatim. Phrases and names are matched at word borders, the longest
    first, without regard to case, accents and hyphens. A grade out of ten goes before a trade word. A colourway
    counts only under a silhouette that has it, or where no silhouette is named. Years say an era as well, in
    columns of their own, since a phrase goes before them (see `_years`): year_from Int32, years_era, years_odds String.
    taken List(Struct of field, written, taken_as) holds the words that were taken for others of the market file.
    """
    book = phrase_book(market)
    lifted = lift_titles(distinct_texts(titles, "title")).with_row_index("id")
    said = _said_by_title(split_clauses(lifted.select("id", "rest")), book)
    silhouettes = _single(said, "silhouette")
    of_the_pair = _without_faults_of_the_box(said, book)
    read = {
        **{kind: _single(said, kind) for kind in SINGLE_KINDS},
        "silhouette": silhouettes,
        "colourway": _colourways(said, silhouettes),
        "grade": _grades(said, book),
        "box": _of_set(said, "box", denied_values=("original",)),
        "tags": _of_set(said, "tags", denied_values=("attached",)),
        **{kind: _lists(of_the_pair, kind, none_kind) for kind, none_kind in LIST_KINDS.items()},
    }
    frame = lifted
    for kind, values in read.items():
        frame = frame.join(values.rename({"value": kind}), on="id", how="left", maintain_order="left")
    for more in (_years(lifted, said, book, market), _taken(said, read)):
        frame = frame.join(more, on="id", how="left", maintain_order="left")
    return frame.select(
        "title", *read, "size_label", "size_system", "stamp_text",
        "year_from", "years_era", "years_odds", "taken",
    )  # fmt: skip


def _said_by_title(clauses: pl.DataFrame, book: PhraseBook) -> pl.DataFrame:
    """Return the mentions of every title with their meanings; each distinct clause is read once."""
    distinct = clauses.select("clause").unique(maintain_order=True).with_row_index("clause_id")
    tokens, typos = without_typos(
        distinct.select(id="clause_id", tokens=tokens_of(pl.col("clause"), signed=book.signed)), book
    )
    mentions = find_mentions(tokens, book)
    meant = mentions.join(book.meanings, on="phrase", how="left", maintain_order="left").with_columns(
        said=pl.when("denied").then(pl.col("said").replace({"yes": "no", "no": "unsure"})).otherwise("said")
    )
    return (
        clauses.join(distinct, on="clause", maintain_order="left")
        .select("id", "clause_id")
        .join(_with_typos(meant, typos).rename({"id": "clause_id"}), on="clause_id", maintain_order="left")
    )


def _with_typos(meant: pl.DataFrame, typos: pl.DataFrame) -> pl.DataFrame:
    """Return the mentions with `written` where a name is in them by a typing error: the words of the title."""
    by_typo = (
        meant.select("id", "phrase", "kind")
        .filter(pl.col("kind").is_in(NAME_KINDS))
        .unique()
        .join(typos, on="id")
        .filter(pl.col("phrase").str.contains(pl.col("phrase_words"), literal=True))
        .group_by("id", "phrase", "kind")
        .agg(_typo=pl.col("typo").sort().first())
    )
    return (
        meant.join(by_typo, on=["id", "phrase", "kind"], how="left", maintain_order="left")
        .with_columns(written=pl.coalesce("_typo", pl.col("written").replace("", None)))
        .drop("_typo")
    )


def _taken(said: pl.DataFrame, read: Mapping[str, pl.DataFrame]) -> pl.DataFrame:
    """Return id, taken List(Struct): what was taken for another word of the market file, of what counts."""
    kinds = {"grade word": "grade"}
    listed = said.filter(pl.col("written").is_not_null()).select(
        "id", field=pl.col("kind").replace(kinds), written="written", taken_as="value"
    )
    of_fields = [listed.clear()]
    for field in (*NAME_KINDS, "grade"):
        values = read[field].select("id", taken_as=pl.col("value").cast(pl.String))
        of_fields.append(
            listed.filter(pl.col("field") == field).join(values, on=["id", "taken_as"], how="semi")
        )
    return (
        pl.concat(of_fields)
        .unique(maintain_order=True)
        .group_by("id", maintain_order=True)
        .agg(taken=pl.struct("field", "written", "taken_as"))
    )


def _agreed(values: pl.DataFrame) -> pl.DataFrame:
    """Return id, value of the titles whose values are one and the same."""
    return (
        values.group_by("id", maintain_order=True)
        .agg(_different=pl.col("value").n_unique(), value=pl.col("value").first())
        .filter(pl.col("_different") == 1)
        .select("id", "value")
    )


def _single(said: pl.DataFrame, kind: str) -> pl.DataFrame:
    """Return id, value of an attribute that a title affirms once and asks nothing about."""
    of_kind = said.filter(pl.col("kind") == kind)
    asked = of_kind.filter(pl.col("said") == "doubt").select("id").unique()
    affirmed = of_kind.filter(pl.col("said").is_in(["yes", "not yet"]))
    return _agreed(affirmed.join(asked, on="id", how="anti"))


def _years(lifted: pl.DataFrame, said: pl.DataFrame, book: PhraseBook, market: Market) -> pl.DataFrame:
    """Return id, year_from Int32, years_era and years_odds String of the titles that say years (see `eras_of_spans`).

    Beside a phrase of an era only that era's years count ("1985 retro" is no pair of 1985), beside another word for
    a re-issue only those of re-issues.
    """
    dated = lifted.select("id", "rest").filter(may_hold_years(pl.col("rest")))
    named = said.filter(pl.col("kind") == "era").group_by("id").agg(
        _named=pl.col("value").filter(pl.col("said") == "yes").unique()
    )  # fmt: skip
    copies = [era.name for era in market.eras if era.run == "re-issue"]
    read = years_of_texts(dated["rest"], apart=book.numbered, treatments=book.treated)
    spans = (
        dated.join(read, left_on="rest", right_on="text", how="left", maintain_order="left")
        .join(named, on="id", how="left", maintain_order="left")
        .with_columns(
            only=pl.when(pl.col("_named").list.len() > 0)
            .then("_named")
            .when(pl.col("_named").is_null() & copies_another(pl.col("rest")))
            .then(pl.lit(copies, dtype=pl.List(pl.String)))
        )
    )
    eras = eras_of_spans(spans.select(*SPANS, "only"), market.eras)
    return pl.concat([spans.select("id", "year_from"), eras], how="horizontal").rename(
        {"era": "years_era", "odds": "years_odds"}
    )


def _colourways(said: pl.DataFrame, silhouettes: pl.DataFrame) -> pl.DataFrame:
    """Return id, value of the colourways, under the title's silhouette where it names one."""
    named = said.filter(pl.col("kind") == "colourway", pl.col("said") == "yes").join(
        silhouettes.rename({"value": "_named"}), on="id", how="left", maintain_order="left"
    )
    under = (pl.col("_named") == pl.col("silhouette")) | pl.col("_named").is_null()
    return _agreed(named.filter(under | (pl.col("silhouette") == "")))


def _grades(said: pl.DataFrame, book: PhraseBook) -> pl.DataFrame:
    """Return id, value Float64: the grade out of ten, else that of the trade word.

    A grade beside the box or another part of the set is that part's, as is one after a piece of the
    shoe ("soles 7/10"); so is a trade word with nothing but the part before it, or linked to it by "in" or "is"
    ("og box beat", "og box in fair condition"). A single word before an unknown one ("good luck", "fair price")
    is no grade.
    """
    others = book.meanings.filter(pl.col("kind").is_in(_NOT_OF_THE_PAIR), pl.col("value") != "none")
    of_set = others.filter(pl.col("kind").is_in(SET_KINDS))
    bare = of_set.filter(pl.col("value") == "")
    affirmed = said.filter(pl.col("said") == "yes").with_columns(
        pl.col("value").cast(pl.Float64, strict=False)
    )
    of_the_box = pl.any_horizontal(
        pl.col(side).is_in(names["phrase"].implode()).fill_null(value=False)
        for side, names in (("before", of_set), ("next", bare))
    )
    pieces = others.filter(pl.col("kind") == "piece")
    of_a_piece = pl.col("before").is_in(pieces["phrase"].implode()).fill_null(value=False)
    numbers = _agreed(affirmed.filter(pl.col("kind") == "grade", ~of_the_box, ~of_a_piece))
    of_another_before = pl.col("before").is_in(bare["phrase"].implode()).fill_null(value=False)
    known_next = pl.col("next").is_not_null() & ~pl.col("next").is_in(_ARTICLES)
    several_words = pl.col("phrase").str.strip_chars().str.contains(" ", literal=True)
    beside = others.filter(~pl.col("kind").is_in(SET_KINDS) | (pl.col("value") == ""))
    of_set_before = pl.col("before").is_in(others["phrase"].implode()) & pl.col("previous").is_in(
        _OF_WHAT_STANDS_BEFORE
    ) | pl.col("before").is_in(of_set["phrase"].implode()) & pl.col("opened") & (
        pl.col("previous") == pl.col("before")
    )
    nominal = (pl.col("previous") == " the ") & pl.col("next").is_in([" | ", " , "])
    of_another = pl.col("next").is_in(beside["phrase"].implode()) | (
        pl.col("next").is_in(of_set["phrase"].implode())
        & (pl.col("previous") == _WITH).fill_null(value=False)
    )
    words = affirmed.filter(
        pl.col("kind") == "grade word",
        ~of_another.fill_null(value=False),
        ~of_another_before,
        ~of_set_before.fill_null(value=False),
        ~of_a_piece,
        ~nominal.fill_null(value=False),
        several_words | known_next,
    )
    return pl.concat([numbers, _agreed(words).join(numbers, on="id", how="anti")])


def _of_set(said: pl.DataFrame, kind: str, *, denied_values: tuple[str, ...]) -> pl.DataFrame:
    """Return id, value of box or tags.

    A denied noun, or the denial of a value in `denied_values`, means "none"; the latter only where the title
    affirms nothing else ("replacement box, original box lost").
    """
    of_kind = said.filter(pl.col("kind") == kind)
    stated = of_kind.filter(pl.col("said") == "yes", pl.col("value") != "").select("id", "value")
    denied = of_kind.filter(pl.col("said") == "no")
    nouns = denied.filter(pl.col("value") == "").select("id", value=pl.lit("none"))
    values = denied.filter(pl.col("value").is_in(denied_values)).select("id", value=pl.lit("none"))
    firm = pl.concat([stated, nouns])
    return _agreed(pl.concat([firm, values.join(firm, on="id", how="anti")]))


def _without_faults_of_the_box(said: pl.DataFrame, book: PhraseBook) -> pl.DataFrame:
    """Return what is said without the defects of the box or a piece of it ("box lid yellowed", "box is yellowed")."""
    boxes = book.meanings.filter(pl.col("kind") == "box")["phrase"].implode()
    pieces = book.meanings.filter(pl.col("kind") == "box piece")["phrase"].implode()
    of_a_piece = pl.col("before").is_in(pieces) | pl.col("next").is_in(pieces)
    of_the_box = pl.col("before").is_in(boxes) & pl.col("previous").is_in(_LINKS)
    return said.filter((pl.col("kind") != "defects") | ~(of_a_piece | of_the_box).fill_null(value=False))


def _lists(said: pl.DataFrame, kind: str, none_kind: str | None) -> pl.DataFrame:
    """Return id, value List(String): the names affirmed, in order; empty where the title says that there are none."""
    to_be_seen = ["yes", "not yet"] if kind == "defects" else ["yes"]
    named = (
        said.filter(pl.col("kind") == kind, pl.col("said").is_in(to_be_seen))
        .group_by("id", maintain_order=True)
        .agg(pl.col("value").unique(maintain_order=True))
    )
    none = (
        said.filter(pl.col("kind") == (none_kind or ""), pl.col("said") == "no")
        .select("id")
        .unique(maintain_order=True)
        .with_columns(value=pl.lit([], dtype=pl.List(pl.String)))
    )
    return pl.concat([named, none.join(named, on="id", how="anti")])
