"""Write the titles of offers: every title says what its venue says, in its language and order."""

import polars as pl

from sample_data.pairs import Draws
from sample_data.scenario import COUNTER, HOLM, UMIKAZE
from sample_data.wordings import ASIDES, ENGLISH, GERMAN, Turns, Wording

_ASIDE_SHARE = 0.08
_SHOUTED_SHARE = 0.04


def write_titles(offers: pl.DataFrame, venue: str, draws: Draws) -> pl.Series:
    """Return the title of each offer of one venue.

    Reads maker, silhouette, colourway, era, box, tags, parts, defects, treatments (null = not said),
    pair (on which the turns of phrase depend), and, at the fixed-price venue, title_size, title_grade
    and title_stamp (text or null).
    """
    numbered = offers.with_columns(turn=pl.col("pair") * 37 % 60)
    if venue == COUNTER:
        title = _joined(" ", pl.col("silhouette"), pl.col("colourway"), pl.col("size"))
    elif venue == HOLM:
        quoted = pl.concat_str(pl.lit("„"), pl.col("colourway"), pl.lit("“"))
        named = _joined(" ", pl.col("maker"), pl.col("silhouette"), quoted)
        title = _joined(", ", named, _turn("era", GERMAN.eras), *_condition(GERMAN))
    elif venue == UMIKAZE:
        named = _joined(" / ", pl.concat_str(pl.col("maker"), pl.lit("　"), pl.col("silhouette")))
        said = [pl.col("colourway"), _turn("era", ENGLISH.eras), *_condition(ENGLISH, box=False)]
        title = _joined(" / ", named, *said)
    else:
        title = _listing_title(draws, len(offers))
    return numbered.select(title=title).to_series()


def _listing_title(draws: Draws, count: int) -> pl.Expr:
    """Return the title at the fixed-price venue: three orders, an aside now and then, some in capitals."""
    maker, silhouette, colourway = pl.col("maker"), pl.col("silhouette"), pl.col("colourway")
    era = _turn("era", ENGLISH.eras)
    rest = [pl.col("title_size"), pl.col("title_grade"), *_condition(ENGLISH), pl.col("title_stamp")]
    aside = pl.when(pl.lit(pl.Series(draws.random(count) < _ASIDE_SHARE))).then(
        (pl.col("turn") % len(ASIDES)).replace_strict(dict(enumerate(ASIDES)), return_dtype=pl.String)
    )
    orders = (
        _joined(", ", _joined(" ", maker, silhouette), colourway, era, *rest, aside),
        _joined(" - ", _joined(" ", pl.lit("Vintage"), maker, silhouette, colourway), era, *rest, aside),
        _joined(", ", pl.concat_str(silhouette, pl.lit(" by "), maker), era, colourway, *rest, aside),
    )
    order = pl.col("turn") % 3
    title = pl.when(order == 0).then(orders[0]).when(order == 1).then(orders[1]).otherwise(orders[2])
    shouted = pl.lit(pl.Series(draws.random(count) < _SHOUTED_SHARE))
    return pl.when(shouted).then(title.str.to_uppercase()).otherwise(title)


def _condition(wording: Wording, *, box: bool = True) -> list[pl.Expr]:
    """Return what is said of completeness, work and defects, in that order; null where nothing is."""
    return [
        *([_turn("box", wording.box)] if box else []),
        _turn("tags", wording.tags),
        *_listed("parts", wording.parts),
        *_listed("treatments", wording.treatments),
        *_none_said("treatments", wording.nothing_done),
        *_listed("defects", wording.defects),
        *_none_said("defects", wording.no_defects),
    ]


def _turn(column: str, turns: Turns) -> pl.Expr:
    """Return one of the turns of phrase for the column's value, by the row's `turn`."""
    phrases = {
        f"{value}|{turn}": said[turn % len(said)] for value, said in turns.items() for turn in range(60)
    }
    key = pl.concat_str(pl.col(column), pl.lit("|"), pl.col("turn"))
    return key.replace_strict(phrases, default=None, return_dtype=pl.String)


def _listed(column: str, turns: Turns) -> list[pl.Expr]:
    """Return, for each member that the list column may hold, its phrase or null."""
    return [
        pl.when(pl.col(column).list.contains(member)).then(_turn_of(said)) for member, said in turns.items()
    ]


def _none_said(column: str, said: tuple[str, ...]) -> list[pl.Expr]:
    """Return the phrase that says that the list column is empty, or null."""
    return [pl.when(pl.col(column).list.len() == 0).then(_turn_of(said))] if said else []


def _turn_of(said: tuple[str, ...]) -> pl.Expr:
    return (pl.col("turn") % len(said)).replace_strict(dict(enumerate(said)), return_dtype=pl.String)


def _joined(mark: str, *pieces: pl.Expr) -> pl.Expr:
    """Join the pieces that are not null."""
    return pl.concat_str(*pieces, separator=mark, ignore_nulls=True)
