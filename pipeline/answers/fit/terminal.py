"""A fit in the terminal."""

from rich.markup import escape

from pipeline.answers.fit.run import FitSummary
from pipeline.terminal.console import OUT, table_of


def show_fit(summary: FitSummary) -> None:
    """Print what a fit was made of, and the sales that it doubts."""
    show_model(summary)
    for lower, upper in summary.grades_alike:
        OUT.print(f"! grades {lower} and {upper} are valued alike: the sales show no rise between them.")
    for left in summary.left_out:
        OUT.print(f"! left out of the model: {escape(left)}", soft_wrap=True)
    if summary.doubted:
        OUT.print(
            f"{len(summary.doubted)} sales count for less than half, their prices being hard to believe; first:"
        )
        doubted = table_of("sale", "sold on", "paid", "times fair", "weight", right=(2, 3, 4))
        for sale in summary.doubted[:10]:
            doubted.add_row(
                escape(sale.title[:60]),
                sale.sold_on.isoformat(),
                f"{sale.price_paid:,.0f}",
                f"{sale.times_fair:.2f}",
                f"{sale.weight:.2f}",
            )
        OUT.print(doubted)


def show_model(summary: FitSummary) -> None:
    OUT.print(
        f"Fit {summary.fit_id}: {summary.sales:,} sales, {summary.first_sale} to {summary.last_sale}; "
        f"{summary.coefficients} coefficients, {summary.effective:.0f} effective; "
        f"single sales scatter by ±{summary.scatter_percent:.0f} %.",
        soft_wrap=True,
    )
    if not summary.converged:
        OUT.print("! The search for the variances did not settle; treat errors and bands as rough.")
    if summary.held_out:
        OUT.print(f"! {summary.held_out} sales are held out until you rule on them (see `pairband review`).")
