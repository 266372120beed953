"""An appraisal in the terminal."""

from rich.markup import escape

from pipeline import formats
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT, table_of


def show_appraisal(appraisal: Appraisal) -> None:
    """Print an appraisal: the answer first, then bands, waterfall, comparables, cautions."""
    currency = appraisal.currency
    pair = appraisal.pair
    name = " · ".join(part for part in (pair.label, pair.silhouette, pair.colourway, pair.era) if part)
    OUT.print(f"\n[bold]{escape(name)}[/bold], valued at {appraisal.as_of.isoformat()}")
    if not appraisal.in_support:
        OUT.print("[bold]OUT OF SUPPORT[/bold]: no sale of this silhouette stands behind the value.")
    OUT.print(f"Fair value (median) [bold]{formats.estimate(appraisal.median, currency)}[/bold], all-in\n")
    bands = table_of("band", "low", "high", right=(1, 2))
    for band in appraisal.bands:
        bands.add_row(
            f"{100 * band.level:.0f} %",
            formats.estimate(band.low, currency),
            formats.estimate(band.high, currency),
        )
    OUT.print(bands)
    steps = table_of("step", "value", "effect", "points", "price", "sales", right=(2, 3, 4, 5))
    steps.add_row(
        "start", escape(appraisal.start), "", "", formats.estimate(appraisal.start_price, currency), ""
    )
    for step in appraisal.steps:
        steps.add_row(
            step.attribute,
            escape(step.value),
            formats.percent_change(step.factor),
            f"±{100 * step.factor * step.error:.1f}",
            formats.estimate(step.price_after, currency),
            f"{step.sales:,}",
        )
    OUT.print(steps)
    if appraisal.comparables:
        nearest = table_of("nearest sales", "sold on", "venue", "paid", "adjusted", right=(3, 4))
        for sale in appraisal.comparables:
            nearest.add_row(
                escape(sale.title[:60]),
                sale.sold_on.isoformat(),
                escape(sale.venue),
                formats.amount(sale.price_paid, currency),
                formats.estimate(sale.adjusted_price, currency),
            )
        OUT.print(nearest)
    else:
        OUT.print("No comparable sale is in the records.")
    for caution in appraisal.cautions:
        OUT.print(f"! {escape(caution)}", soft_wrap=True)
    source = appraisal.source
    OUT.print(
        f"From {source.records:,} sales, {source.first_sale} to {source.last_sale}; fit {source.fit_id}, "
        f"pairband {source.version}.",
        soft_wrap=True,
    )
    OUT.print(" ".join(LIMITS), soft_wrap=True, style="dim")
