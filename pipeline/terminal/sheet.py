"""Any answer's sheet in the terminal."""

from rich.markup import escape
from rich.table import Table as TerminalTable

from pipeline.answers.sheet import Sheet, Table
from pipeline.limits import LIMITS
from pipeline.terminal.console import OUT

MOST_ROWS = 40


def show_sheet(sheet: Sheet, *, limits: bool = True, most_rows: int = MOST_ROWS) -> None:
    """Print a sheet: the answer first, then its tables, then what to be careful of and where it comes from.

    Of a table at most `most_rows` rows are printed, and how many more there are is said.
    """
    OUT.print(f"\n[bold]{escape(sheet.title)}[/bold]")
    width = max((len(name) for name, _ in sheet.figures), default=0)
    for name, value in sheet.figures:
        OUT.print(f"{escape(name):<{width}}  [bold]{escape(value)}[/bold]")
    for sentence in sheet.sentences:
        OUT.print(escape(sentence))
    for table in sheet.tables:
        show_table(table, most_rows=most_rows)
    for warning in sheet.warnings:
        OUT.print(f"! {escape(warning)}")
    if sheet.source:
        OUT.print(escape(sheet.source))
    if limits:
        OUT.print(" ".join(LIMITS), style="dim")


def show_table(table: Table, *, most_rows: int = MOST_ROWS) -> None:
    """Print a table under its title; long text is wrapped, not cut."""
    if table.rows.is_empty():
        return
    shown = TerminalTable(title=table.title, title_justify="left", title_style="", box=None, pad_edge=False)
    for column in table.columns:
        shown.add_column(
            column.heading,
            justify="right" if column.number else "left",
            no_wrap=column.number,
            overflow="fold",
        )
    for row in table.texts()[:most_rows]:
        shown.add_row(*map(escape, row))
    OUT.print()
    OUT.print(shown)
    left = table.rows.height - most_rows
    if left > 0:
        OUT.print(f"… and {left:,} more (`--json` has them all).")
    if table.note:
        OUT.print(escape(table.note))
