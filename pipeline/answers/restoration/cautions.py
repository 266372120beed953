"""What must be said with work on a pair: safety, what cannot be undone, what the numbers leave out."""

from collections.abc import Sequence

import polars as pl

from pipeline import formats
from pipeline.answers.restoration.restoration import Evidence
from pipeline.config import Market
from pipeline.market.pair import Pair

SAFETY: tuple[str, ...] = (
    "Solvents and glues: follow each safety sheet, work in a well-ventilated room, wear gloves that resist them, "
    "and keep flames and sparks away; local rules say how to store and throw them away.",
    "Peroxide and ultraviolet light burn skin and eyes: cover both and shield the lamp. The yellow can come back.",
    "Blades: cut away from yourself, on a firm base, and put the cap back on.",
    "Dust of old foam, glue and paint: wear a mask that fits, sand wet or with suction, and do not eat there.",
    "Practise on a worthless pair first; most of this work cannot be undone.",
    "Tell the buyer what was done: the discounts here assume that buyers know, and local rules may require it.",
)


def safety_of(market: Market) -> tuple[str, ...]:
    """Return what must be said before any work: for every workshop, then the owner's own words on each treatment."""
    own = (f"{treatment.name}: {treatment.caution}" for treatment in market.treatments if treatment.caution)
    return (*SAFETY, *own)


def work_cautions(evidence: Evidence, effects: pl.DataFrame, stock: Sequence[Pair]) -> tuple[str, ...]:
    """Return what to be careful of in the numbers of a restoration report; `effects` as of `total_effects`."""
    cautions = [
        "The effects are what buyers paid for the grade and for knowing of the work; they do not cover a pair that "
        "the work ruins.",
        "Prices are all-in: what the buyer pays. If you sell through another house, its seller's fees come off; "
        "`pairband consign` works them out.",
    ]
    if evidence.why_none:
        cautions.append(
            f"The effects rest on the regression alone: {evidence.why_none}. To check them, record what was done to a "
            "pair, and its stock number at each sale."
        )
    sold = effects.group_by("treatment", maintain_order=True).agg(
        (pl.col("sales") + pl.col("borrowed")).max()
    )
    unsold = sold.filter(pl.col("sales") == 0)["treatment"].to_list()
    if unsold:
        cautions.append(
            f"No sale shows what buyers take off for {', '.join(unsold)}: no discount is assumed, and the range "
            "allows for that of other treatments."
        )
    cautions.extend(f"{pair.label}: {cell.words}" for pair in stock for cell in pair.unread)
    cautions.extend(dict.fromkeys(sentence for pair in stock for sentence in pair.read_as))
    disagree = evidence.judged.filter("disagree")["treatment"].to_list()
    if disagree:
        cautions.append(
            f"The regression and the pairs sold before and after disagree on {', '.join(disagree)} by more than chance "
            "explains. Do not rely on either."
        )
    blind = sum(pair.defects is None for pair in stock)
    if blind:
        cautions.append(
            f"The defects of {formats.counted(blind, 'pair')} are not known: work that cures a defect was not weighed "
            "for them."
        )
    return tuple(cautions)
