"""What titles mention, and whether they affirm it, deny it, or say that it is still to be done.

The phrases of all titles stand in one long frame, in the order in which they were written, and every rule is
an expression over a row and its neighbours. Two phrases are linked when nothing but fillers ("of", "any",
"has been") stands between them: a rule never reaches across a word that the phrase book does not know.
"""

import polars as pl

from pipeline.ingest.phrases import PhraseBook

_NAMED = ["mention", "noun"]
_CUES = ["not", "none", "not yet", "unsure", "doubt"]
_FORWARD = ["not", "not yet", "unsure"]
_CLOSING = ["comma", "break", "and", "or", "absent"]
_LIST_LENGTH = 4
"""How many commas a list may have before its last word ("no box, tags, laces or booklet")."""


def find_mentions(tokens: pl.DataFrame, book: PhraseBook) -> pl.DataFrame:
    """Find what titles mention.

    `tokens` holds id UInt32 and tokens String (as `lift_titles` gives them). Returns one row per mention, title by
    title in the order written: id, phrase String, said String ("yes", "no", "not yet" or "unsure"), before
    and after String (the phrase linked before and after it, fillers left out; null where there is none), followed
    Boolean (whether the very next word is known).
    """
    kept = _merged_cues(_hits(tokens, book).filter(pl.col("role") != "filler"))
    directed = _with_direction(_with_joints(kept))
    return (
        _with_said(directed)
        .with_columns(before=_near("phrase", 1), after=_near("phrase", -1))
        .filter(pl.col("role").is_in(_NAMED))
        .select("id", "phrase", "said", "before", "after", "followed")
    )


def _hits(tokens: pl.DataFrame, book: PhraseBook) -> pl.DataFrame:
    """Return every phrase found: id, phrase, role, preposed, of_set, run (linked phrases share it), followed."""
    found = (
        tokens.select(
            "id",
            phrase=pl.col("tokens").str.extract_many(book.patterns, leftmost=True),
            at=pl.col("tokens").str.find_many(book.patterns, leftmost=True),
        )
        .explode("phrase", "at")
        .join(book.roles, on="phrase", how="left", maintain_order="left")
    )
    end = pl.col("at") + pl.col("phrase").str.len_bytes()
    touches = (end.shift(1) == pl.col("at")) & (pl.col("id").shift(1) == pl.col("id"))
    return (
        found.with_columns(_touches=touches.fill_null(value=False))
        .with_columns(
            run=(~pl.col("_touches")).cum_sum(), followed=pl.col("_touches").shift(-1, fill_value=False)
        )
        .drop("at", "_touches")
    )


def _near(column: str, places: int) -> pl.Expr:
    """Return a column's value so many places before (or, below nought, after), where that row is linked."""
    linked = pl.col("run").shift(places) == pl.col("run")
    return pl.when(linked).then(pl.col(column).shift(places))


def _merged_cues(kept: pl.DataFrame) -> pl.DataFrame:
    """Return the phrases with each run of cues as its last one, which takes the meaning of all.

    "does not need" is still to be done, "not without" is unsure.
    """
    roles = [pl.col("role"), *(_near("role", places) for places in (1, 2))]
    cue = pl.col("role").is_in(_CUES)
    first, second = (before.is_in(_CUES).fill_null(value=False) for before in roles[1:])
    joined = {
        "not yet": (roles[1] == "not yet") & first | (roles[2] == "not yet") & first & second,
        "unsure": first & roles[1].is_in(["unsure", "doubt", "not"]),
    }
    merged = (
        pl.when(cue & (joined["not yet"] | (pl.col("role") == "not yet")).fill_null(value=False))
        .then(pl.lit("not yet"))
        .when(cue & (pl.col("role") != "none") & joined["unsure"].fill_null(value=False))
        .then(pl.lit("unsure"))
        .otherwise("role")
    )
    swallowed = cue & _near("role", -1).is_in(_CUES).fill_null(value=False)
    return (
        kept.with_columns(_merged=merged, _swallowed=swallowed)
        .filter(~pl.col("_swallowed"))
        .with_columns(role="_merged")
        .drop("_merged", "_swallowed")
    )


def _with_joints(kept: pl.DataFrame) -> pl.DataFrame:
    """Add `joint`: "or", "and" or "and list" where a phrase joins two named ones, else null."""
    named_next = _near("role", -1).is_in(_NAMED)
    frame = kept
    for word in ("or", "and"):
        column = f"_{word}_list"
        frame = frame.with_columns(
            ((pl.col("role") == "comma") & (_near("role", -1) == word)).fill_null(value=False).alias(column)
        )
        for _ in range(_LIST_LENGTH):
            grows = (_near("role", -2) == word) | (_near(column, -2).fill_null(value=False))
            frame = frame.with_columns(
                (
                    pl.col(column) | ((pl.col("role") == "comma") & named_next & grows).fill_null(value=False)
                ).alias(column)
            )
    return frame.with_columns(
        joint=pl.when((pl.col("role") == "or") | pl.col("_or_list"))
        .then(pl.lit("or"))
        .when(pl.col("_and_list"))
        .then(pl.lit("and list"))
        .when(pl.col("role") == "and")
        .then(pl.lit("and"))
    ).drop("_or_list", "_and_list")


def _with_direction(kept: pl.DataFrame) -> pl.DataFrame:
    """Add `forward` (the cue bears on what follows) and `backward` (what it says of what stands before).

    A cue bears on the named phrase after it. A not-word that can follow what it denies ("missing") bears on a
    bare noun before it instead: a noun alone ("box") says nothing by itself. A not-word with an unknown word
    after it ("not recommended") leaves what stands before it unsure.
    """
    role, before, after = pl.col("role"), _near("role", 1), _near("role", -1)
    named_before = before.is_in(_NAMED).fill_null(value=False)
    named_after = after.is_in(_NAMED).fill_null(value=False)
    denies_noun = (role == "not") & ~pl.col("preposed") & (before == "noun").fill_null(value=False)
    forward = role.is_in(_FORWARD) & named_after & ~denies_noun
    closed = after.is_in(_CLOSING).fill_null(value=False) | (denies_noun & named_after)
    free = named_before & ~forward
    backward = (
        pl.when(free & ((role == "none") | ((role == "not") & closed)))
        .then(pl.lit("no"))
        .when(free & (role == "not yet"))
        .then(pl.lit("not yet"))
        .when(free & ((role == "doubt") | ((role == "unsure") & closed)))
        .then(pl.lit("unsure"))
        .when(free & (role == "not") & pl.col("preposed"))
        .then(pl.lit("unsure"))
    )
    return kept.with_columns(forward=forward, backward=backward)


def _with_said(directed: pl.DataFrame) -> pl.DataFrame:
    """Add `said` to every named phrase: what a cue before or after it makes of it.

    A cue reaches along "or" to all that follows. Along "and" a denial reaches bare nouns only ("without box and
    tags"); of another phrase it is then unsure ("no yellowing and cracking"), or, in a list, affirmed.
    """
    role, joint = pl.col("role"), pl.col("joint")
    goes_on = (
        pl.when(role.is_in(_NAMED))
        .then(_near("forward", 1).fill_null(value=False) | _near("joint", 1).is_not_null())
        .when(joint.is_not_null())
        .then(_near("role", 1).is_in(_NAMED).fill_null(value=False) | _near("joint", 1).is_not_null())
        .otherwise(pl.lit(value=False))
    )
    ands = (joint == "and").fill_null(value=False).cum_sum()
    lists = (joint == "and list").fill_null(value=False).cum_sum()
    spans = directed.with_columns(_starts=~goes_on, _ands=ands, _lists=lists).with_columns(
        _cue=pl.when("_starts").then(pl.when("forward").then("role").otherwise(pl.lit(""))).forward_fill(),
        _ands=pl.col("_ands") - pl.when("_starts").then("_ands").forward_fill(),
        _lists=pl.col("_lists") - pl.when("_starts").then("_lists").forward_fill(),
    )
    noun, direct = role == "noun", (pl.col("_ands") == 0) & (pl.col("_lists") == 0)
    ahead = (
        pl.when((pl.col("_cue") == "not") & (direct | noun))
        .then(pl.lit("no"))
        .when((pl.col("_cue") == "not") & (pl.col("_lists") == 0))
        .then(pl.lit("unsure"))
        .when(pl.col("_cue") == "not yet")
        .then(pl.lit("not yet"))
        .when((pl.col("_cue") == "unsure") & direct)
        .then(pl.lit("unsure"))
    )
    spans = spans.with_columns(_ahead=ahead, _behind=_near("backward", -1))
    for _ in range(_LIST_LENGTH):
        chained = (
            (noun | pl.col("of_set"))
            & _near("joint", -1).is_not_null()
            & (_near("of_set", -2).fill_null(value=False))
            & (_near("_behind", -2) == "no").fill_null(value=False)
        )
        spans = spans.with_columns(_behind=pl.when(chained).then(pl.lit("no")).otherwise("_behind"))
    return spans.with_columns(said=pl.coalesce("_behind", "_ahead", pl.lit("yes")))
