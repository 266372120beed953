"""A fee schedule in words, as a house states it to a customer."""

from decimal import Decimal

from pipeline import formats
from pipeline.config import FeeSchedule
from pipeline.phrases.phrases import ENGLISH, Phrases


def schedule_words(schedule: FeeSchedule, currency: str, language: Phrases = ENGLISH) -> str:
    """Return what a schedule takes of a price: "12 % of the first €400, 8 % of the rest; at least €10".

    The flat fee and the tax are not in it; they are lines of their own.
    """
    *steps, _ = schedule.tiers
    say = language.say

    def amount(edge: Decimal | None) -> str:
        return formats.exact_or_whole(edge or Decimal(0), currency, language.locale)

    rates = [percent_words(tier.rate, language) for tier in schedule.tiers]
    if not steps:
        words = rates[-1]
    elif schedule.method == "marginal":
        firsts = [say("rate_of_first", rate=rates[0], amount=amount(steps[0].up_to))]
        nexts = [
            say("rate_from_there", rate=rate, amount=amount(step.up_to))
            for rate, step in zip(rates[1:-1], steps[1:], strict=True)
        ]
        words = language.listed([*firsts, *nexts, say("rate_of_rest", rate=rates[-1])])
    else:
        upto = [
            say("rate_up_to", rate=rate, amount=amount(step.up_to))
            for rate, step in zip(rates[:-1], steps, strict=True)
        ]
        words = language.listed([*upto, say("rate_of_higher", rate=rates[-1])])
    return say("at_least", terms=words, amount=amount(schedule.minimum)) if schedule.minimum else words


def percent_words(rate: Decimal, language: Phrases = ENGLISH) -> str:
    """Return a rate as a schedule states it: 12.5 %, whatever the number of its digits."""
    return formats.rate(rate.normalize(), language.locale)
