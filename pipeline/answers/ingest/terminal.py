"""What came of every row of the exports."""

from rich.markup import escape

from pipeline.ingest.run import IngestRun
from pipeline.terminal.console import OUT, table_of


def show_ingest(run: IngestRun) -> None:
    """Print what came of every row: recorded, duplicate or quarantined, and why."""
    show_counts(run)
    for file in run.files:
        for reason in file.reasons:
            value = "" if reason.value is None else f" ({reason.value[:60]!r})"
            OUT.print(
                f"! {escape(file.name)}: {reason.kind}: {reason.rows} × {escape(reason.field)}: "
                f"{escape(reason.reason)}; first in row {reason.row_number}{escape(value)}",
                soft_wrap=True,
            )
        for flag, count in file.flags.items():
            OUT.print(f"! {escape(file.name)}: {count} flagged: {escape(flag)}", soft_wrap=True)
        for note in file.notes:
            OUT.print(f"  {escape(file.name)}: {escape(note)}", soft_wrap=True)
    for note in run.notes:
        OUT.print(f"  {escape(note)}", soft_wrap=True)


def show_counts(run: IngestRun) -> None:
    table = table_of("file", "map", "rows read", "recorded", "duplicates", "quarantined", right=(2, 3, 4, 5))
    for file in run.files:
        counts = (file.read, file.recorded, file.duplicates, file.quarantined)
        name = f"{file.name} (read before, unchanged)" if file.unchanged else file.name
        table.add_row(escape(name), escape(file.map_name), *(f"{count:,}" for count in counts))
    totals = (
        sum(file.read for file in run.files),
        sum(file.recorded for file in run.files),
        sum(file.duplicates for file in run.files),
        sum(file.quarantined for file in run.files),
    )
    if len(run.files) > 1:
        table.add_row("[bold]all[/bold]", "", *(f"[bold]{count:,}[/bold]" for count in totals))
    OUT.print(table)
    OUT.print(
        f"{totals[0]:,} rows read = {totals[1]:,} recorded + {totals[2]:,} duplicates + {totals[3]:,} quarantined"
    )
