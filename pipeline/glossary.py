"""The words of an answer, each defined once: read by pages, terminal, help of commands, README and notebook alike."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache


@dataclass(frozen=True)
class Term:
    """A word, what it means in one sentence, and how else it is written."""

    name: str
    meaning: str
    also: tuple[str, ...] = ()

    @property
    def anchor(self) -> str:
        """Return the name by which a page links to the term."""
        return "word-" + re.sub(r"\W+", "-", self.name)


GLOSSARY: tuple[Term, ...] = (
    Term(
        "fair value",
        "The all-in price that half of such pairs sell above and half below (the median), estimated from your own "
        "sales for the day of valuation.",
    ),
    Term(
        "band",
        "The range in which the prices of such pairs should fall as often as its level says: 8 in 10 sales within "
        "the 80 % band.",
        ("8 in 10",),
    ),
    Term(
        "all-in",
        "All that a private buyer pays the venue for the pair: the hammer price or the price asked, the buyer's "
        "premium, and the tax on it; freight and import tax are not part of it.",
    ),
    Term("net", "What a sale leaves the seller after all fees of the venue."),
    Term("net at the median", "The net of a sale at the fair value of the pair at that venue."),
    Term(
        "expected net",
        "The net on average: of a sale at the ask, and of the auction afterwards where nobody buys in time, each "
        "as often as it should happen.",
    ),
    Term(
        "net gain",
        "The fair value after the work, less the fair value as it is, less the cost of the work.",
    ),
    Term(
        "maximum bid",
        "The highest bid, or fixed price to pay, that leaves your margin even if the pair sells again at a cautious "
        "price.",
        ("most to pay",),
    ),
    Term(
        "cost if won",
        "What the pair costs by the time it is in the shop: the all-in price, freight, duty and tax.",
        ("cost if bought", "cost at the maximum bid", "cost at the most to pay"),
    ),
    Term(
        "profit",
        "What the price that the buyer paid leaves after the buyer's and the venue's fees, tax, freight, the cost of "
        "the pair and the work on it.",
    ),
    Term("margin", "The share of the net of the resale that is left after all costs of the pair."),
    Term(
        "expected gain",
        "The net of the resale on average, less the cost if won at the present price and the costs in the shop.",
    ),
    Term(
        "chance of a loss",
        "How often the net of the resale should be less than what the pair has cost.",
    ),
    Term(
        "value in hindsight",
        "What a pair was worth by the fit to all sales, later ones included; a judgement by the model, not a price "
        "that was paid.",
        ("in hindsight",),
    ),
    Term(
        "price ÷ value",
        "The price paid as a multiple of the fair value on the day of sale: above 1 for more than it was worth.",
    ),
    Term(
        "grade",
        "The condition of a pair, from 1 to 10 in half steps; your market file says which words mean which grade.",
    ),
    Term(
        "sales behind it",
        "How many sales of the fit share an attribute with the pair: the fewer, the less sure is what it adds.",
        ("support", "sales behind each attribute"),
    ),
    Term(
        "standard error",
        "How far an estimate is off by chance alone: by less than that in about 2 of 3 cases.",
        ("s.e.",),
    ),
)
"""The terms, in the order in which they are explained."""


def meaning(name: str) -> str:
    """Return what the term of that name means."""
    return next(term.meaning for term in GLOSSARY if term.name == name)


def terms_in(text: str) -> tuple[Term, ...]:
    """Return the terms that a text uses, in the order of the glossary; a longer term hides those within it."""
    found = set(_named(text))
    return tuple(term for term in GLOSSARY if term in found)


def term_of(heading: str) -> Term | None:
    """Return the first term that a heading names, or None."""
    return next(_named(heading), None)


def _named(text: str) -> Iterator[Term]:
    pattern, by_spelling = _spellings()
    for found in pattern.finditer(" ".join(text.lower().split())):
        yield by_spelling[found[1]]


@cache
def _spellings() -> tuple[re.Pattern[str], dict[str, Term]]:
    by_spelling = {spelling: term for term in GLOSSARY for spelling in (term.name, *term.also)}
    longest_first = "|".join(map(re.escape, sorted(by_spelling, key=len, reverse=True)))
    return re.compile(rf"(?<![\w-])({longest_first})(?![\w-]|s\w)s?"), by_spelling
