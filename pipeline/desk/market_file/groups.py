"""The tables of the market file as its overview lists them: by what an owner looks for first."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Group:
    """Tables under one heading, each by its key with a heading and a sentence of its own."""

    heading: str
    tables: dict[str, tuple[str, str]]
    is_folded: bool = False


GROUPS = (
    Group(
        "Venues and fees",
        {
            "venues": (
                "Venues",
                "Where pairs are sold, what each takes from buyer and seller, and its bids.",
            ),
            "imports": ("Bringing a pair home", "Freight, duty and tax on what you buy abroad."),
        },
    ),
    Group(
        "Eras", {"eras": ("Eras", "The production runs that you distinguish, with their years and words.")}
    ),
    Group(
        "Words of titles",
        {
            "words": ("Words", "Which words of a title mean which grade, box, tags, overlay or lasting."),
            "defects": ("Defects", "The defects that you name, and the words for each."),
            "parts": ("Parts of the set", "What belongs to a full set, and the words for each part."),
        },
    ),
    Group(
        "Silhouettes and colourways",
        {
            "silhouettes": ("Silhouettes", "Each silhouette with its maker, its words and its colourways."),
            "colourways": ("Common colourways", "Colourways that every silhouette has beside its own."),
        },
    ),
    Group(
        "Sizes",
        {
            "sizes": ("Usual size system", "How a size is read that names no system."),
            "makers": ("Makers", "Makers whose labels say sizes of their own."),
        },
    ),
    Group(
        "Buying and selling",
        {
            "buying": ("Buying", "The margin that you want, how sure of it, and where you sell again."),
            "selling": ("Selling", "How your own sales are taxed."),
            "consigning": ("Consigning", "What you take of consigned pairs, and how long their owners wait."),
            "workshop": ("Workshop", "The hours and money for the next round, and what an hour costs."),
            "treatments": (
                "Treatments",
                "What a restorer does to a pair, with hours, materials and what it gains.",
            ),
        },
    ),
    Group(
        "Sheets and tickets",
        {
            "business": ("Your business", "The name, address, terms and language of what you hand out."),
            "tickets": (
                "Price tickets",
                "The paper that tickets are printed on, and how a price is rounded.",
            ),
            "pictures": ("Pictures", "The folder of your photographs of pairs."),
            "phrases": ("Phrases", "The sentences of sheets and tickets, by language."),
        },
    ),
    Group(
        "All the rest",
        {
            "base_currency": ("Base currency", "The currency in which everything is compared and valued."),
            "maps": ("Export maps", "Which column of an export is which field. “Read” makes these for you."),
            "rates": ("Exchange rates", "Rates of your own, and how old a rate may be."),
            "outcomes": (
                "Keeping what was said",
                "Whether values, asks and bids are kept, to be judged later.",
            ),
            "era_odds": ("Odds of an era", "How likely each era is where nobody states it."),
            "model": ("Model", "What the fit takes into account; left out, the usual."),
        },
        is_folded=True,
    ),
)


def heading_of(key: str) -> tuple[str, str]:
    """Return the heading and the sentence of a table; raises KeyError for what is none."""
    return next(one.tables[key] for one in GROUPS if key in one.tables)
