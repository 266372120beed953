"""What must be said beside work on a pair: of safety, of what cannot be undone, of what the figures leave out."""

from collections.abc import Sequence

import polars as pl

from pipeline.answers.restoration.restoration import Evidence
from pipeline.config import Market
from pipeline.market.pair import Pair

SAFETY: tuple[str, ...] = (
    "Solvents and glues: follow the safety sheet of each, work in moving air, wear gloves that withstand them, and "
    "keep flames and sparks away; local rules say how they are kept and thrown away.",
    "Peroxide and ultraviolet light burn skin and eyes: cover both, shield the lamp, and know that the yellow can "
    "come back.",
    "Blades: cut away from yourself, on a firm base, and lay them down capped.",
    "Dust of old foam, glue and paint: wear a mask that fits, sand wet or under suction, and eat elsewhere.",
    "Practise on a worthless pair first; most of this work cannot be undone.",
    "Tell the buyer what was done: the discounts here suppose that buyers know of it, and local rules may want it "
    "told.",
)


def safety_of(market: Market) -> tuple[str, ...]:
    """Return what must be said before any work: of the workshop, then the owner's own of each treatment."""
    own = (f"{treatment.name}: {treatment.caution}" for treatment in market.treatments if treatment.caution)
    return (*SAFETY, *own)


def work_cautions(evidence: Evidence, effects: pl.DataFrame, stock: Sequence[Pair]) -> tuple[str, ...]:
    """Return what must be said of the figures of a restoration report; `effects` as of `total_effects`."""
    told = [
        "The effects are what buyers paid for the grade and for the knowledge of the work; they say nothing of a "
        "pair that is spoilt by it.",
        "Prices are all-in. Where a pair is sold through another house, its seller's fees come off; `pairband consign` "
        "reckons them.",
    ]
    if evidence.why_none:
        told.append(
            f"The effects rest on the regression alone: {evidence.why_none}. Note what was done to a pair, and its "
            "stock number at each sale, and they can be tried."
        )
    sold = effects.group_by("treatment", maintain_order=True).agg(
        (pl.col("sales") + pl.col("borrowed")).max()
    )
    unsold = sold.filter(pl.col("sales") == 0)["treatment"].to_list()
    if unsold:
        told.append(
            f"No sale tells what buyers take off for {', '.join(unsold)}: no discount is reckoned with, and the band "
            "allows for what others cost."
        )
    told.extend(dict.fromkeys(sentence for pair in stock for sentence in pair.read_as))
    apart = evidence.judged.filter("disagree")["treatment"].to_list()
    if apart:
        told.append(
            f"The regression and the pairs sold before and after disagree on {', '.join(apart)}: more than chance "
            "makes likely. Trust neither figure far."
        )
    blind = sum(pair.defects is None for pair in stock)
    if blind:
        told.append(
            f"Of {blind} {'pair' if blind == 1 else 'pairs'} it is not known what defects there are: work that cures "
            "one was not weighed for them."
        )
    return tuple(told)
