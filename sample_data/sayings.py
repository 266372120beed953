"""What each venue says of a pair. What it does not say was paid for all the same."""

from dataclasses import dataclass

import polars as pl

from sample_data import faults
from sample_data.pairs import Draws
from sample_data.scenario import COUNTER, HOLM, LANTERN, UMIKAZE


@dataclass(frozen=True)
class Habits:
    """The share of offers in which a venue says each thing.

    The `no_` shares hold where there is nothing to say: that there is no box, no tags, no part, no
    defect, or that nothing was done.
    """

    colourway: float
    era: float
    size: float
    grade: float
    box: float
    no_box: float
    tags: float
    no_tags: float
    parts: float
    no_parts: float
    defects: float
    no_defects: float
    treatments: float
    no_treatments: float
    stamp: float


HABITS: dict[str, Habits] = {
    HOLM: Habits(
        colourway=0.94,
        era=0.74,
        size=0.97,
        grade=0.95,
        box=0.92,
        no_box=0.55,
        tags=0.85,
        no_tags=0.25,
        parts=0.70,
        no_parts=0.0,
        defects=0.85,
        no_defects=0.0,
        treatments=0.75,
        no_treatments=0.0,
        stamp=0.35,
    ),
    LANTERN: Habits(
        colourway=0.97,
        era=0.82,
        size=0.98,
        grade=0.92,
        box=0.96,
        no_box=0.90,
        tags=0.80,
        no_tags=0.30,
        parts=0.50,
        no_parts=0.0,
        defects=0.75,
        no_defects=0.15,
        treatments=0.70,
        no_treatments=0.30,
        stamp=0.12,
    ),
    UMIKAZE: Habits(
        colourway=0.90,
        era=0.55,
        size=0.99,
        grade=0.97,
        box=0.97,
        no_box=0.97,
        tags=0.60,
        no_tags=0.10,
        parts=0.40,
        no_parts=0.0,
        defects=0.80,
        no_defects=0.08,
        treatments=0.60,
        no_treatments=0.05,
        stamp=0.75,
    ),
    COUNTER: Habits(
        colourway=1.0,
        era=0.98,
        size=1.0,
        grade=1.0,
        box=1.0,
        no_box=1.0,
        tags=1.0,
        no_tags=1.0,
        parts=1.0,
        no_parts=1.0,
        defects=1.0,
        no_defects=1.0,
        treatments=1.0,
        no_treatments=1.0,
        stamp=0.80,
    ),
}


def leave_unsaid(offers: pl.DataFrame, teller: str, draws: Draws) -> pl.DataFrame:
    """Return the offers with null for all that the speaker (a venue) does not say; each pair alike.

    Where era and stamp are in conflict, both are said in any case. Adds says_stamp (Boolean); the other
    columns keep their names: colourway, era, foot_mm, grade, box, tags, parts, defects, treatments.
    """
    habits = HABITS[teller]
    forced = (pl.col("fault") == faults.ERA_CONFLICT).fill_null(value=False)
    spoken_of, at = offers["pair"].unique().sort(), offers["pair"]
    positions = spoken_of.search_sorted(at).to_numpy()

    def said(attribute: str) -> pl.Expr:
        drawn = draws.random(len(spoken_of))[positions]
        return pl.lit(pl.Series(drawn < getattr(habits, attribute)))

    def either(attribute: str, is_none: pl.Expr) -> pl.Expr:
        return pl.when(is_none).then(said(f"no_{attribute}")).otherwise(said(attribute))

    def none_in(attribute: str) -> pl.Expr:
        return pl.col(attribute).list.len() == 0

    return offers.with_columns(
        pl.when(said("colourway")).then("colourway"),
        pl.when(said("era") | forced).then("era"),
        pl.when(said("size")).then("foot_mm"),
        pl.when(said("grade")).then("grade"),
        pl.when(either("box", pl.col("box") == "none")).then("box"),
        pl.when(either("tags", pl.col("tags") == "none")).then("tags"),
        *(
            pl.when(either(attribute, none_in(attribute))).then(attribute)
            for attribute in ("parts", "defects", "treatments")
        ),
        says_stamp=said("stamp") | forced,
    )
