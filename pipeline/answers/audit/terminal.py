"""An audit in the terminal."""

from rich.markup import escape

from pipeline import formats
from pipeline.answers.audit.figures import Audit
from pipeline.answers.audit.words import NO_BANDS
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT, table_of


def show_audit(audit: Audit) -> None:
    """Print an audit: the verdict first, then bands, accuracy, ratios, errors and the sales that pull."""
    OUT.print(f"\n[bold]The audit at {audit.as_of.isoformat()}[/bold]")
    OUT.print(escape(audit.verdict.words), soft_wrap=True)
    if not audit.coverages:
        OUT.print(NO_BANDS, soft_wrap=True)
    bands = table_of("band", "of", "sales", "held", "± 95 %", "width", "verdict", right=(2, 3, 4, 5))
    for row in audit.coverages:
        held = row.coverage
        bands.add_row(
            formats.level(held.level),
            escape(row.group if row.kind == "all" else f"{row.kind}: {row.group}"),
            formats.count(held.sales),
            f"{100 * held.held:.1f} %",
            f"{196 * held.error:.1f}",
            formats.level(held.width),
            row.verdict,
        )
    if audit.coverages:
        OUT.print(bands)
    for pricer in audit.pricers:
        OUT.print(f"{escape(pricer.name)}: {escape(pricer.words)}", soft_wrap=True)
    for figure in (*audit.ratios, *audit.errors):
        OUT.print(
            f"{escape(figure.name)} {figure.value:.3g}{' %' if figure.unit else ''}"
            f"{f' ({figure.verdict})' if figure.verdict else ''}: {escape(figure.words)}",
            soft_wrap=True,
        )
    OUT.print(escape(audit.second_stage_words), soft_wrap=True)
    pulling = table_of("sales that pull most", "sold on", "paid", "times fair", "pull", right=(2, 3, 4))
    for sale in audit.influential:
        pulling.add_row(
            escape(sale.title[:60]),
            sale.sold_on.isoformat(),
            formats.amount(sale.price_paid, audit.currency),
            f"{sale.times_fair:.2f}",
            formats.share(sale.pull),
        )
    OUT.print(pulling)
    OUT.print(
        f"{audit.priced:,} of {audit.sales:,} sales priced from earlier months alone, "
        f"at {audit.origins} days of refit.",
        soft_wrap=True,
    )
    OUT.print(" ".join(LIMITS), soft_wrap=True, style="dim")
