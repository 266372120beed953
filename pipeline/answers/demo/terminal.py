"""What the demo made, and what to try next."""

from rich.markup import escape

from pipeline import formats
from pipeline.answers.demo.run import Demo
from pipeline.answers.fit.tables import model_sentences
from pipeline.answers.ingest.terminal import show_counts
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT, table_of


def show_demo(demo: Demo, command: str) -> None:
    """Print what the demo made, the three values, and what to try next with `command`."""
    show_counts(demo.ingested)
    flagged = sum(sum(file.flags.values()) for file in demo.ingested.files)
    OUT.print(f"{flagged} rows are flagged for the owner to look at.")
    for sentence in model_sentences(demo.fitted):
        OUT.print(sentence)
    OUT.print()
    values = table_of("pair", "fair value", "80 % band", "sales of it", right=(1, 2, 3))
    for appraisal in demo.appraisals:
        band = next(band for band in appraisal.bands if band.level == 0.8)
        values.add_row(
            escape(f"{appraisal.pair.label}: {appraisal.pair.silhouette}"),
            formats.estimate(appraisal.median, appraisal.currency),
            f"{formats.estimate(band.low, appraisal.currency)} – {formats.estimate(band.high, appraisal.currency)}",
            formats.count(next(step.sales for step in appraisal.steps if step.attribute == "silhouette")),
        )
    OUT.print(values)
    OUT.print(f"\nPages: open [bold]{escape(str(demo.index))}[/bold] in a browser (no network needed).")
    OUT.print("Next:")
    for line in (
        f"cd {demo.directory}",
        f'{command} appraise --silhouette "Plover Lo" --era second --size "UK 8" --grade 7.5 --page plover.html',
        f"{command} appraise --file exports/stock.csv --row 3",
        f"{command} quarantine > quarantine.csv   # the rows that could not be read, and why",
        f"{command} fit                           # fit again; see which prices it doubts",
    ):
        OUT.print(f"  {line}", soft_wrap=True, markup=False)
    OUT.print(" ".join(LIMITS), soft_wrap=True, style="dim")
