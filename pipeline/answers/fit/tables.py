"""What a fit says: what it was made of, and the sales whose prices it doubts."""

from dataclasses import replace

from pipeline import formats
from pipeline.answers.audit.words import of_interactions, of_second_stage, of_trend
from pipeline.answers.fit.run import FitSummary
from pipeline.answers.sheet import Sheet, amount, day, decimal, level, table, words
from pipeline.hedonic.rolling import MOST_SINGLE
from pipeline.market.strange_unknowns import StrangeUnknown
from pipeline.untrusted import show_words

MOST_TITLE = 80
MOST_DOUBTED = 10
"""The doubtful sales that are shown without details."""


def fit_sheet(summary: FitSummary) -> Sheet:
    """Return the sheet of a fit."""
    doubted = [
        {
            "title": sale.title,
            "sold_on": sale.sold_on,
            "price_paid": sale.price_paid,
            "price_to_value": sale.price_to_value,
            "weight": sale.weight,
        }
        for sale in summary.doubted
    ]
    return Sheet(
        title=f"Fit {summary.fit_id}",
        sentences=model_sentences(summary),
        tables=(
            replace(
                table(
                    "doubted",
                    _doubted_words(summary),
                    (
                        words("title", "Sale"),
                        day("sold_on", "Sold on"),
                        amount("price_paid", "Paid", summary.currency),
                        decimal("price_to_value", "Price ÷ value", 2),
                        level("weight", "Counts for"),
                    ),
                    doubted,
                ).marked(cut=("title",)),
                first=MOST_DOUBTED,
            ),
        ),
        warnings=_warnings(summary),
    )


def _doubted_words(summary: FitSummary) -> str:
    """Say how many prices are doubted, and which of them are listed where there are too many."""
    said = (
        f"{formats.counted(summary.doubted_sales, 'sale')} with a price that is hard to believe; they count for less "
        "than half"
    )
    if summary.doubted_sales == len(summary.doubted):
        return f"{said}:"
    return f"{said}. The {len(summary.doubted):,} that would move the fit most if they counted in full:"


def _second_stage_sentences(summary: FitSummary) -> tuple[str, ...]:
    """Say what the second stage gains where it counts; the audit also says why it does not."""
    if not summary.second_stage.used:
        return ()
    return (of_second_stage(summary.second_stage, summary.interactions.median_price, summary.currency),)


def model_sentences(summary: FitSummary) -> tuple[str, ...]:
    """Return what a fit was made of."""
    sample = (f"The bands were tried on a sample of {MOST_SINGLE:,} sales, the same ones each time.",)
    outside = (
        f"The sales are those of {formats.counted(summary.files, 'file')} outside the ledger: answers rest on them "
        "until the next `pairband fit`, and the ledger's own records show as comparables alone."
    )
    return (
        *((outside,) if summary.files else ()),
        f"{formats.counted(summary.sales, 'sale')}, {formats.day(summary.first_sale)} to "
        f"{formats.day(summary.last_sale)}. {summary.coefficients} coefficients, {summary.effective:.0f} effective. "
        f"Prices of single sales scatter by ±{summary.scatter_percent:.0f} %.",
        *of_interactions(summary.interactions, summary.currency),
        *filter(None, (of_trend(summary.trend),)),
        *_second_stage_sentences(summary),
        *(sample if summary.sales > MOST_SINGLE else ()),
    )


def _unknown_words(one: StrangeUnknown) -> str:
    """Say what not knowing an attribute does to a price, and which sales to look at."""
    titles = "; ".join(show_words(title, MOST_TITLE) or "(no title)" for title in one.titles)
    return (
        f"{formats.counted(one.sales, 'sale')} of unknown {one.attribute} sold at "
        f"{formats.percent_change(one.factor)} against the others, far beyond any known {one.attribute} "
        f"({formats.percent_change(one.farthest)} at most). Pairs of unknown {one.attribute} are valued like these, so "
        f"look at them first: are they pairs, and was all of them read? {titles}."
    )


def _warnings(summary: FitSummary) -> tuple[str, ...]:
    said = []
    if not summary.converged:
        said.append("The search for the variances did not converge; treat errors and bands as rough.")
    if summary.excluded:
        said.append(
            f"{formats.counted(summary.excluded, 'sale')} excluded until you decide (see `pairband review`)."
        )
    if summary.not_priced:
        rows = formats.counted(summary.not_priced, "row")
        said.append(
            f"{rows} left out: without a price, a day or a silhouette, not sold, or excluded pending review."
        )
    said += [
        f"Grades {lower} and {upper} get the same value: the sales show no rise between them."
        for lower, upper in summary.grades_alike
    ]
    said += [_unknown_words(one) for one in summary.strange_unknowns]
    return (*said, *summary.left_out)
