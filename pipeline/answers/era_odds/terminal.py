"""A pair whose era is in doubt, in the terminal."""

from rich.markup import escape

from pipeline import formats
from pipeline.answers.era_odds.answer import EraInDoubt
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT, table_of
from reports.era_odds.page import finding_out_words


def show_era_odds(doubt: EraInDoubt) -> None:
    """Print the mixture's band, what each era would make of the pair, and what finding out is worth."""
    currency, pair = doubt.currency, doubt.pair
    name = " · ".join(part for part in (pair.label, pair.silhouette, pair.colourway, "era in doubt") if part)
    OUT.print(f"\n[bold]{escape(name)}[/bold], valued at {doubt.as_of.isoformat()}")
    OUT.print(f"Fair value (median) [bold]{formats.estimate(doubt.median, currency)}[/bold], all-in\n")
    bands = table_of("band", "low", "high", right=(1, 2))
    for band in doubt.bands:
        bands.add_row(
            formats.level(band.level),
            formats.estimate(band.low, currency),
            formats.estimate(band.high, currency),
        )
    OUT.print(bands)
    eras = table_of("era", "chance", "if so", "80 % band", "sales of it", right=(1, 2, 3, 4))
    for era in doubt.eras:
        eras.add_row(
            escape(era.era),
            formats.level(era.chance),
            formats.estimate(era.median, currency),
            f"{formats.estimate(era.low, currency)} – {formats.estimate(era.high, currency)}",
            formats.count(era.sales),
        )
    OUT.print(eras)
    OUT.print(f"The chances: {doubt.origin}.")
    OUT.print(finding_out_words(doubt), soft_wrap=True)
    for caution in doubt.cautions:
        OUT.print(f"! {escape(caution)}", soft_wrap=True)
    source = doubt.source
    OUT.print(
        f"From {source.records:,} sales, {source.first_sale} to {source.last_sale}; fit {source.fit_id}, "
        f"pairband {source.version}.",
        soft_wrap=True,
    )
    OUT.print(" ".join(LIMITS), soft_wrap=True, style="dim")
