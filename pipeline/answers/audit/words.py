"""The audit in plain words: what a dealer may conclude from each figure, and what not."""

from collections.abc import Sequence
from decimal import Decimal
from math import expm1

from pipeline import formats
from pipeline.hedonic.accuracy import Accuracy, Margin
from pipeline.hedonic.coverage import Coverage
from pipeline.hedonic.interactions import Interactions
from pipeline.hedonic.rolling import MOST_SINGLE
from pipeline.hedonic.second_stage import UNUSED, SecondStage
from pipeline.hedonic.trend import SHAPES, TrendStage
from pipeline.market.attributes import TITLES

FEWER_THAN_WISE = 100

NO_BANDS = (
    "What share of later sales the bands hold is not known yet: no sale came after enough others for a band to be "
    "known before it."
)
"""What stands in place of the coverage of the bands where there is none."""


def of_accuracy(found: Accuracy) -> str:
    """Say what the accuracy of the values means."""
    if not found.sales:
        return "No sale could be priced before it happened, so nothing is known of the accuracy."
    few = " They are few: take the figures as a hint." if found.sales < FEWER_THAN_WISE else ""
    return (
        f"Half of {found.sales:,} sales, each priced from earlier months alone, had a value less "
        f"than {100 * found.mdape:.1f} % from the price; {100 * found.within_10:.0f} in 100 were within 10 %. "
        "Much of that is chance between two buyers, which no model removes. It says nothing of pairs unlike "
        f"those sold.{few}"
    )


def of_margin(name: str, ahead: Margin) -> str:
    """Say whether the value beats a naive pricer."""
    value, low, high = (_points(part) for part in (ahead.value, ahead.low, ahead.high))
    points = f"{value} points ({low} to {high})"
    if ahead.low > 0:
        return f"The value is nearer to the price than the {name}, by {points} of median error."
    if ahead.high < 0:
        return f"The {name} is nearer to the price, by {points}: do not use these values until you know why."
    return f"The records do not show that the value is nearer than the {name}: {points} of median error."


def of_coverage(kind: str, group: str, found: Coverage, outcome: str) -> str:
    """Say whether a band held what it claims."""
    where = "" if kind == "all" else f" of {kind} {group}"
    held = (
        f"The {100 * found.level:.0f} % band held {100 * found.covered:.1f} % of {found.sales:,} later sales{where} "
        f"(± {196 * found.error:.1f})"
    )
    if outcome == "too narrow":
        return f"{held}: less than it claims. Take these bands as too narrow."
    if outcome == "too wide":
        return f"{held}: more than it claims. The bands are wider than they need be."
    if outcome == "unproven":
        return f"{held}: too few to judge."
    return f"{held}, as it claims. It says how often, not which sale."


def of_ratio(name: str, value: float, exact: float) -> str:
    """Say what a figure of the ratio study means; `exact` is what exact values would show by scatter alone."""
    if name == "median ratio":
        side = "above" if value > 1 else "below"
        return (
            f"The middle value is {100 * abs(value - 1):.1f} % {side} the price paid. Near 1, values as a whole are "
            "neither high nor low; single ones may be."
        )
    if name == "COD":
        return (
            f"Values are {value:.1f} % from the price on average, about their own middle; exact values would be "
            f"{exact:.1f} % away, since single sales scatter. The range is for things whose sales scatter less."
        )
    if name == "PRD":
        lean = "low" if value > 1 else "high"
        return (
            f"Expensive pairs are valued {lean} against cheap ones, as far as this goes: exact values would show "
            f"{exact:.3f}, by scatter alone, and a few expensive sales move it much. Where the two "
            "disagree, believe PRB."
        )
    return (
        f"When the value doubles, the ratio of value to price moves by {_points(value)} %. Exact values would show "
        f"{_points(exact)} %, by scatter alone: a high price is more often a lucky one. Only what is beyond that "
        "says that expensive and cheap pairs are valued differently; attributes that nobody stated are the usual cause."
    )


def of_spread(name: str, chance: float) -> str:
    """Say whether the errors' spread moves with the price."""
    if "in the bands" in name:
        if chance < 0.01:
            return "The bands do not yet allow for all of it: look at the coverage by price fifth."
        return "What is left after each pair's own scatter is allowed for does not show it (p-value beside)."
    if chance < 0.01:
        return "Single sales scatter more at some prices than at others; the bands are wider and narrower for that."
    return "Single sales scatter alike at all prices, as far as the records show (p-value beside)."


def of_skewness(lean: float) -> str:
    """Say which way surprises lean."""
    if abs(lean) < 0.5:
        return "Surprises upwards and downwards are about as large."
    side = "upwards" if lean > 0 else "downwards"
    return f"The large surprises go {side}; a band may reach further on that side."


def of_normality(chance: float) -> str:
    """Say whether the residuals are Gaussian, and that they need not be."""
    if chance < 0.01:
        return (
            "Residuals are not normally distributed: there are more large surprises. The fit expects that, and the "
            "bands allow for it."
        )
    return "Residuals are normally distributed as far as the records show."


def of_outliers(beyond: float, degrees: float) -> str:
    """Say what share of sales is far out, against what the model expects."""
    from scipy.special import ndtr, stdtr

    expected = 200 * float(ndtr(-3.0) if degrees == float("inf") else stdtr(degrees, -3.0))
    more = (
        " Far more than that: look for wrong prices among the records." if beyond > 2 * expected + 0.5 else ""
    )
    return f"The model expects {expected:.1f} %, a normal distribution 0.3 %.{more}"


def of_second_stage(stage: SecondStage, median_price: float, currency: str) -> str:
    """Say whether what attributes are worth together, beyond each alone, counts in the value, and what that gains."""
    learned = {
        0.0: "from what values missed",
        0.5: "from prices and from what values missed",
        1.0: "from prices",
    }
    what = f"What attributes are worth together, beyond each alone (learned {learned[stage.prices]}),"
    if stage == UNUSED:
        return f"{what} is not counted: too few sales came after others to try it."
    moved = _moved(stage.gain, stage.error, median_price, currency)
    if stage.used:
        return f"{what} is counted for {100 * stage.share:.0f} %: {moved}."
    chance = "" if stage.gain < 0 else ", no more than chance"
    return f"{what} is not counted: {moved}{chance}."


def _moved(gain: float, error: float, median_price: float, currency: str) -> str:
    """Say by how much errors on later sales fell, as a share of the price and in money (none without a price)."""
    sizes = (abs(gain), error)
    share = "{} % of the price (± {})".format(*(formats.number(100 * points, 2) for points in sizes))
    moved = f"errors on later sales {'rose' if gain < 0 else 'fell'} by {share}"
    if not median_price:
        return moved
    money = (formats.exact(round(Decimal(points * median_price), 2), currency) for points in sizes)
    return "{}: {} (± {}) at the median price".format(moved, *money)


def of_interactions(found: Interactions, currency: str) -> tuple[str, ...]:
    """Say which pairs of attributes are valued together, and what that gains; nothing where none were looked for."""
    if not found.looked:
        return ()
    pairs = ", ".join(map(_pair, found.pairs))
    left_out = tuple(
        f"{_pair(columns)} is left out: the sales call for it, but it has more combinations than a fit takes."
        for columns in found.too_many
    )
    if not found.pairs:
        return ("No pair of attributes was found that is worth more or less together than apart.", *left_out)
    if not found.error:
        return (
            f"The sales show pairs of attributes that are worth more or less together than apart: {pairs}. No later "
            "sale can show yet whether values are better for it, so it does not count.",
            *left_out,
        )
    fell = _moved(found.gain, found.error, found.median_price, currency)
    if found.used:
        return (f"Worth more or less together than apart, and valued so: {pairs}. By that {fell}.", *left_out)
    chance = "" if found.gain < 0 else ", no more than chance"
    return (
        f"The sales show pairs of attributes that are worth more or less together than apart: {pairs}. They do not "
        f"count: {fell}{chance}.",
        *left_out,
    )


def _pair(columns: Sequence[str]) -> str:
    """Return a pair of attributes as a reader meets it: era × box."""
    return " × ".join(TITLES.get(column, column) for column in columns)


def of_trend(stage: TrendStage) -> str:
    """Say how fast the market moves, and whether values go on with it."""
    if stage.pace is None:
        return ""
    rate = 100 * abs(expm1(12 * stage.pace))
    way = "risen" if stage.pace > 0 else "fallen"
    pace = f"The market has {way} by {rate:.1f} % a year over its last {stage.months or SHAPES[0].months} months."
    kept = f"{pace} This trend is not counted, and values at later days keep the level of the last month: "
    if not stage.error:
        return f"{kept}too few sales could be priced before they happened to try it."
    if not stage.share_error:
        return f"{kept}before most of the later sales no trend had served yet."
    predicted = (
        f"the market moved by {100 * stage.share:.0f} % (standard error {100 * stage.share_error:.0f}) "
        "of what trends predicted"
    )
    if stage.gain <= 0:
        return f"{kept}errors on later sales did not fall with trends; {predicted}."
    fell = (
        f"errors on later sales fell by {100 * stage.gain:.2f} % of the price "
        f"(standard error {100 * stage.error:.2f})"
    )
    if not stage.used:
        return f"{kept}with trends {fell}, and {predicted}, which may be chance."
    return (
        f"{pace} Values in the last months and at later days go on with this trend, by "
        f"{100 * (1 - stage.damping):.0f} % less each month: {fell}, and {predicted}."
    )


def of_verdict(outcome: str, overall: Sequence[Coverage]) -> str:
    """Say what the audit concludes."""
    shares = ", ".join(f"{100 * found.level:.0f} %: {100 * found.covered:.1f} %" for found in overall)
    said = {
        "held up": "The bands held up",
        "too narrow": "A band holds less than it claims, by more than chance: treat the bands as too narrow",
        "too wide": "The bands hold more than they claim: they are safe, and wider than they need be",
    }[outcome]
    return f"{said} ({shares} of {overall[0].sales:,} later sales)."


def of_sample(sales: int) -> tuple[str, ...]:
    """Say that only some of so many sales were priced one by one; nothing where all of them were."""
    if sales <= MOST_SINGLE:
        return ()
    return (
        f"A sample of {MOST_SINGLE:,} of {sales:,} sales was priced one by one, the same ones each time.",
    )


def of_unbanded(priced: int, banded: int) -> str:
    """Say why fewer sales had a band than were priced; "" where all of them had one."""
    if banded >= priced:
        return ""
    return (
        f"{priced:,} later sales were priced, and {banded:,} of them had a band: bands are learned from earlier "
        f"errors, so {priced - banded:,} of the earliest had none yet."
    )


def _points(share: float) -> str:
    """Return a share in signed per cents with one decimal, without the per cent sign."""
    return f"{100 * share:+.1f}".replace("-", formats.MINUS)
