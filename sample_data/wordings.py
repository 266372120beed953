"""The words in which titles say things, by language: each attribute's value and its turns of phrase."""

from dataclasses import dataclass

Turns = dict[str, tuple[str, ...]]


@dataclass(frozen=True)
class Wording:
    """How one language of titles says what is known of a pair; `nothing_done` and the like say "none"."""

    eras: Turns
    box: Turns
    tags: Turns
    parts: Turns
    defects: Turns
    treatments: Turns
    no_defects: tuple[str, ...] = ()
    nothing_done: tuple[str, ...] = ()


ENGLISH = Wording(
    eras={
        "first": ("first run", "1st run", "first series"),
        "second": ("second run", "2nd run", "second series"),
        "early reissue": ("early re-issue", "nineties re-issue", "90s reissue"),
        "late reissue": ("late re-issue", "modern re-issue", "late reissue"),
    },
    box={
        "original": ("original box", "OG box", "with its box"),
        "replacement": ("replacement box", "later box"),
        "none": ("no box", "box not included", "w/o box"),
    },
    tags={
        "attached": ("hang tags", "tags still on", "tags attached"),
        "loose": ("loose tags",),
        "none": ("no tags", "tags missing"),
    },
    parts={
        "spare laces": ("spare laces", "extra laces"),
        "booklet": ("with booklet", "fold-out booklet"),
        "dust bag": ("dust bag",),
    },
    defects={
        "cracked overlay": ("cracked overlay", "overlay cracking"),
        "yellowing": ("yellowing", "yellowed soles"),
        "sole separation": ("sole separation", "soles separating"),
        "heel wear": ("heel wear", "worn heels"),
        "sun fade": ("sun fade", "sun-faded"),
    },
    treatments={
        "deep clean": ("deep cleaned", "professionally cleaned"),
        "reglue": ("reglued", "soles re-glued"),
        "de-yellowing": ("de-yellowed", "soles whitened"),
        "sole swap": ("sole swap done", "soles swapped", "resoled"),
        "repaint": ("repainted", "overlays repainted"),
    },
    no_defects=("no flaws", "no defects"),
    nothing_done=("never restored", "not restored"),
)

GERMAN = Wording(
    eras={
        "first": ("Erstserie",),
        "second": ("Zweitserie",),
        "early reissue": ("frühe Neuauflage",),
        "late reissue": ("späte Neuauflage",),
    },
    box={
        "original": ("Originalkarton", "im Originalkarton"),
        "replacement": ("Ersatzkarton",),
        "none": ("ohne Karton",),
    },
    tags={
        "attached": ("Etikett am Schuh",),
        "loose": ("loses Etikett",),
        "none": ("ohne Etikett",),
    },
    parts={
        "spare laces": ("Ersatzsenkel",),
        "booklet": ("Beiheft",),
        "dust bag": ("Stoffbeutel",),
    },
    defects={
        "cracked overlay": ("Auflage rissig",),
        "yellowing": ("Sohle vergilbt", "vergilbt"),
        "sole separation": ("Sohle löst sich",),
        "heel wear": ("Absatz abgelaufen",),
        "sun fade": ("ausgebleicht",),
    },
    treatments={
        "deep clean": ("gründlich gereinigt",),
        "reglue": ("Sohle neu geklebt",),
        "de-yellowing": ("Sohle entgilbt", "entgilbt"),
        "sole swap": ("neu besohlt",),
        "repaint": ("nachgefärbt",),
    },
)

ASIDES = ("soles could use a swap", "smoke-free home", "as pictured", "rare size")
"""Said in passing at the fixed-price venue: they state nothing about the pair."""
