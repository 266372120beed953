"""The ways in which titles turn a phrase of the market file: "overlays are cracking", "cracking to the overlays"."""

from collections.abc import Iterable, Iterator

from pipeline.config import Market

LOOSE = (
    *(f"{off} {kept}" for off in ("removed", "off", "cut off", "detached") for kept in (
        "but kept", "but included", "but present", "but there", "but in the box", "and kept", "and included",
        "in the box", "in box", "but with it", "but with them", "but retained", "and in the box", "but still there",
    )),
    *("detached", "not attached", "unattached", "loose in the box", "loose in box", "loose"),
)  # fmt: skip
"""What may follow the tags where they are there, but no longer on the pair."""

_STATES = (
    *("are", "is", "still", "have", "has", "been", "have been", "starting", "are starting to", "badly", "slightly"),
    *("a little", "a bit", "lightly", "are still", "is still", "are badly", "are slightly"),
)  # fmt: skip
_AT = ("to", "on", "of", "in", "at", "along", "to the", "on the", "of the", "in the", "at the", "along the")

BEATEN = ("to beat", "be beat", "being beat")
"""Turns of speech that hold a trade word and are none ("hard to beat")."""


def defect_variants(phrase: str, market: Market) -> Iterator[str]:
    """Yield the other ways to write a defect of two words."""
    words = phrase.split()
    if len(words) != 2:
        return
    first, second = words
    if second.endswith(("ing", "ed")):
        yield from (f"{first} {state} {second}" for state in _STATES)
    if second.endswith(("ing", "ion")):
        yield from (f"{second} {at} {first}" for at in _AT)
    if first.endswith(("ing", "ed")):
        yield from (f"{first} {material} {second}" for material in market.words.overlay)


def overlay_variants(phrase: str) -> Iterator[str]:
    """Yield the other ways to write a material and the overlay of it ("overlays in vinyl")."""
    words = phrase.split()
    if len(words) == 2:
        material, noun = words
        yield from (
            f"{noun} {link} {material}" for link in ("in", "of", "are", "is", "are in", "made of", "are of")
        )
        yield f"{material} for the {noun}"


def lasting_variants(phrase: str) -> Iterator[str]:
    """Yield the other ways to write how a pair is lasted ("lasting is board")."""
    words = phrase.split()
    if len(words) == 2 and words[1] == "lasted":
        yield from (
            f"{words[0]} lasting",
            f"{words[0]} last",
            f"lasting is {words[0]}",
            f"lasted on {words[0]}",
        )


def part_variants(phrase: str) -> Iterator[str]:
    """Yield the other ways to write a part of the set that comes in several ("spare set of laces")."""
    words = phrase.split()
    if len(words) == 2 and words[1].endswith("s"):
        yield from (f"{words[0]} {lot} of {words[1]}" for lot in ("set", "pair", "sets", "pairs"))


def materials_in(phrase: str, market: Market) -> Iterator[str]:
    """Yield the overlay materials that stand within the variant of a phrase ("cracked vinyl overlay")."""
    words = phrase.split()
    if len(words) == 3 and words[2].startswith("overlay"):
        yield from (material for material in market.words.overlay if material == words[1])


def tag_nouns(nouns: Iterable[str], phrases: Iterable[str]) -> set[str]:
    """Return the nouns for the tags: the bare ones, and the phrases that end in one ("hang tags")."""
    bare = set(nouns)
    return bare | {phrase for phrase in phrases if phrase.split()[-1] in bare}
