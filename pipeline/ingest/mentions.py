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
_TITLE_ROOM = 1_000_000
_DONE = "ed "
"""How a participle ends: "deep cleaned and reglue needed" is one treatment done and one to be done."""

_OPENINGS = [" | ", " , "]
_LIST_LENGTH = 4
"""How many commas a list may have before its last word ("no box, tags, laces or booklet")."""


def find_mentions(tokens: pl.DataFrame, book: PhraseBook) -> pl.DataFrame:
    """Find what titles mention.

    `tokens` holds id UInt32 and tokens String (as `tokens_of` gives them). Returns one row per mention, title
    by title in the order written: id, phrase, said ("yes", "no", "not yet", "unsure", or "doubt" before a
    question mark), before (the phrase linked before it, fillers left out; null where it is denied or there is
    none), opened (whether that one is the first of its clause or list item), previous
    and next (the phrases that touch it; null where an unknown word does): all String but `opened`, Boolean.
    """
    kept = _merged_cues(_hits(tokens, book).filter(pl.col("role") != "filler"))
    directed = _with_direction(_with_joints(kept))
    return (
        _with_said(directed)
        .with_columns(
            before=pl.when(_near("said", 1) != "no").then(_near("phrase", 1)),
            opened=_near("previous", 1).is_in(_OPENINGS).fill_null(value=False),
        )
        .filter(pl.col("role").is_in(_NAMED))
        .select("id", "phrase", "said", "before", "opened", "previous", "next")
    )


def _hits(tokens: pl.DataFrame, book: PhraseBook) -> pl.DataFrame:
    """Return every phrase found: id, phrase, its role and marks, run (linked phrases share it), next."""
    found = (
        tokens.select(
            "id",
            phrase=pl.col("tokens").str.extract_many(book.patterns, overlapping=True),
            at=pl.col("tokens").str.find_many(book.patterns, overlapping=True),
        )
        .explode("phrase", "at")
        .with_columns(start=_place("at"), end=_place("at") + pl.col("phrase").str.len_bytes())
        .sort("start", "end", descending=[False, True])
        .filter((pl.col("end") > pl.col("end").cum_max().shift(1)).fill_null(value=True))
        .join(book.roles, on="phrase", how="left", maintain_order="left")
    )
    touches = (pl.col("end").shift(1) >= pl.col("start")).fill_null(value=False)
    return found.with_columns(
        run=(~touches).cum_sum(),
        next=pl.when(touches.shift(-1)).then(pl.col("phrase").shift(-1)),
        previous=pl.when(touches).then(pl.col("phrase").shift(1)),
    ).drop("at", "start", "end")


def _place(at: str) -> pl.Expr:
    """Return a place in a title as a place in the row of all titles, with a gap between title and title."""
    return pl.col("id").cast(pl.Int64) * _TITLE_ROOM + pl.col(at)


def _near(column: str, places: int) -> pl.Expr:
    """Return a column's value so many places before (or, below zero, after), where that row is linked."""
    linked = pl.col("run").shift(places) == pl.col("run")
    return pl.when(linked).then(pl.col(column).shift(places))


def _merged_cues(kept: pl.DataFrame) -> pl.DataFrame:
    """Return the phrases with each run of cues as its last one, which takes the meaning of all.

    "does not need" is still to be done, "not without" is unsure, and "? unsure" at the end is a doubt.
    """
    roles = [pl.col("role"), *(_near("role", places) for places in (1, 2))]
    cue = pl.col("role").is_in(_CUES)
    first, second = (before.is_in(_CUES).fill_null(value=False) for before in roles[1:])
    joined = {
        "not yet": (roles[1] == "not yet") & first | (roles[2] == "not yet") & first & second,
        "unsure": first & roles[1].is_in(["unsure", "doubt", "not"]),
    }
    leads = _near("role", -1).is_in(_NAMED).fill_null(value=False)
    merged = (
        pl.when(cue & (joined["not yet"] | (pl.col("role") == "not yet")).fill_null(value=False))
        .then(pl.lit("not yet"))
        .when(((pl.col("role") == "unsure") & (roles[1] == "doubt") & ~leads).fill_null(value=False))
        .then(pl.lit("doubt"))
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
    after_it = pl.col("postposed") & named_before
    forward = role.is_in(_FORWARD) & named_after & ~denies_noun & ~after_it
    closed = after.is_in(_CLOSING).fill_null(value=False) | (denies_noun & named_after)
    free = named_before & ~forward
    backward = (
        pl.when(free & ((role == "none") | ((role == "not") & closed)))
        .then(pl.lit("no"))
        .when(free & (role == "not yet"))
        .then(pl.lit("not yet"))
        .when(free & (role == "doubt"))
        .then(pl.lit("doubt"))
        .when(free & (role == "unsure") & (closed | pl.col("postposed")))
        .then(pl.lit("unsure"))
        .when(free & (role == "not") & pl.col("verbal") & ~_near("lasting_fact", 1))
        .then(pl.lit("unsure"))
    )
    return kept.with_columns(forward=forward, backward=backward)


def _with_said(directed: pl.DataFrame) -> pl.DataFrame:
    """Add `said` to every named phrase: what a cue before or after it makes of it.

    A cue reaches along "or" to all that follows. Along "and" a denial reaches bare nouns only ("without box and
    tags"); of another phrase it is then unsure ("no yellowing and cracking"), or, in a list, affirmed. What is
    still to be done reaches back along "and" ("reglue and repaint needed"), but not to a participle. A maker and
    the silhouette after it are one name ("possibly Marrowick Plover Lo").
    """
    role, joint = pl.col("role"), pl.col("joint")
    goes_on = (
        pl.when(role.is_in(_NAMED))
        .then(
            _near("forward", 1).fill_null(value=False)
            | _near("joint", 1).is_not_null()
            | _near("names_maker", 1).fill_null(value=False)
        )
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
        either = (_near("role", -1) == "or") & (_near("_behind", -2) == "doubt")
        both = (
            (_near("joint", -1) == "and")
            & (_near("_behind", -2) == "not yet")
            & ~pl.col("phrase").str.ends_with(_DONE)
        )
        spans = spans.with_columns(
            _behind=pl.when(chained)
            .then(pl.lit("no"))
            .when(either.fill_null(value=False))
            .then(pl.lit("doubt"))
            .when(role.is_in(_NAMED) & both.fill_null(value=False))
            .then(pl.lit("not yet"))
            .otherwise("_behind")
        )
    return spans.with_columns(said=pl.coalesce("_behind", "_ahead", pl.lit("yes")))
