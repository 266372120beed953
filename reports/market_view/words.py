"""What the market's figures say, in sentences: for the page and for the terminal alike."""

import math

from pipeline import formats
from pipeline.answers.market_view.answer import MarketView
from pipeline.answers.market_view.index import LEVEL, SPANS, YEAR, Change
from pipeline.answers.market_view.resales import Resales
from pipeline.answers.market_view.worth import FALSE_SHARE, FEWEST_SALES
from pipeline.untrusted import show_words


def state_market(view: MarketView) -> str:
    """Return the answer as a dealer would say it: what a year did to prices."""
    year = view.year or (view.changes[-1] if view.changes else None)
    if year is None:
        return "The records do not reach far enough to say what the market did."
    span = "a year earlier" if year.months == YEAR else f"{formats.counted(year.months, 'month')} earlier"
    told = formats.month(year.until)
    if year.low <= 1 <= year.high:
        return (
            f"In {told} a pair fetched about what it did {span}: the estimate is "
            f"{formats.percent_change(year.factor)}, and the 80 % band ({change_words(year)}) holds no change."
        )
    way = "more" if year.factor > 1 else "less"
    size = formats.percent_change(year.factor)
    much = f"{size} as much as" if size.startswith("×") else f"{size[1:]} {way} than"
    return f"In {told} a pair fetched {much} {span}; 80 % band {change_words(year)}."


def span_words(change: Change) -> str:
    """Return the span of a change: "in 12 months", "since October 2017"."""
    if change.months in SPANS:
        return f"in {change.months} months, to {formats.month(change.until)}"
    return f"since {formats.month(change.since)}"


def change_words(change: Change) -> str:
    """Return the band of a change: −1.6 % to +7.6 %."""
    return f"{formats.percent_change(change.low)} to {formats.percent_change(change.high)}"


def agreement_words(resales: Resales) -> str:
    """Return what resales of one and the same pair say of the index."""
    told = []
    whole = resales.agreement
    if whole is not None:
        size = formats.percent_change(whole.factor)
        band = f"{formats.percent_change(whole.low)} to {formats.percent_change(whole.high)}"
        verdict = (
            "no more than chance would have it"
            if whole.low <= 1 <= whole.high
            else "more than chance would have it"
        )
        told.append(
            f"{formats.counted(whole.pairs, 'pair')} sold again fetched {size} against what the index makes of "
            f"the time between ({formats.level(LEVEL)} band {band}): {verdict}."
        )
    if resales.why_not:
        told.append(resales.why_not)
    elif resales.rough:
        told.append(
            f"An index from the {formats.count(resales.pairs)} of them that reach from one year to another is "
            f"rough: it errs by up to ±{100 * (math.exp(resales.error) - 1):.0f} % (one standard error), so it "
            "is told in figures but not drawn."
        )
    else:
        period = {3: "quarter", 6: "half-year", 12: "year"}[resales.months]
        told.append(f"Their own index, by {period}, rests on {formats.counted(resales.pairs, 'resale')}.")
    return " ".join(told)


def halves_words(view: MarketView) -> str:
    """Return how the records were halved, or why they were not."""
    halves = view.halves
    if halves.why_not or halves.earlier_to is None or halves.later_from is None:
        return f"Whether these worths moved cannot be told: {show_words(halves.why_not)}"
    return (
        f"Earlier: the {formats.count(halves.earlier)} sales to {formats.day(halves.earlier_to)}; later: the "
        f"{formats.count(halves.later)} since, each fitted by itself. A value with fewer than {FEWEST_SALES} "
        "sales in a half is not compared."
    )


def moved_words(view: MarketView) -> str:
    """Return which worths moved between the halves of the records."""
    if view.halves.why_not:
        return ""
    moved = [worth for worth in view.worths if worth.moved]
    compared = sum(worth.chance is not None for worth in view.worths)
    if not moved:
        return (
            f"Of {formats.counted(compared, 'worth')} compared, none moved by more than chance would have it."
        )
    named = "; ".join(
        f"{worth.attribute} {show_words(worth.value, 60)} {formats.share(worth.earlier.share)} → "
        f"{formats.share(worth.later.share)}"
        for worth in moved
        if worth.earlier and worth.later
    )
    return (
        f"Of {formats.counted(compared, 'worth')} compared, {formats.count(len(moved))} moved: {named}. (At most "
        f"about {formats.level(FALSE_SHARE)} of such findings are chance.)"
    )
