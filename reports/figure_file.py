"""One figure of a page as a file for elsewhere: a letter, a catalogue, a spreadsheet."""

from collections.abc import Sequence
from pathlib import Path
from typing import Literal, get_args

from polars import selectors

from pipeline.errors import ReportError, UnknownName
from pipeline.outfile import write_file
from reports.export import chart_bytes, table_bytes
from reports.page import Figure

FigureFormat = Literal["svg", "png", "pdf", "csv", "json"]
DECIMALS = 4
"""The decimals of a figure's numbers in a spreadsheet."""

FORMATS: tuple[str, ...] = get_args(FigureFormat)


def pick_figure(drawn: Sequence[Figure], name: str) -> Figure:
    """Return the figure of that name; raises UnknownName with the names that there are."""
    for figure in drawn:
        if figure.key == name:
            return figure
    names = [figure.key for figure in drawn]
    raise UnknownName.among(
        "figure of this page", name, names, f"there are: {', '.join(names)}." if names else "it has none."
    )


def figure_bytes(figure: Figure, format: FigureFormat) -> bytes:
    """Return a figure as a file's bytes: the chart with its note and source, or as csv its numbers."""
    if format == "csv":
        return table_bytes(figure.rows.with_columns(selectors.float().round(DECIMALS)))
    return chart_bytes(figure.chart, format, note=f"{figure.note} {figure.source}".strip())


def write_figure(drawn: Sequence[Figure], name: str, format: str | None, path: Path | None) -> Path:
    """Write one figure by its name and return its path; raises ReportError where it cannot.

    Without a `format` it is that of the path's ending, or svg; without a `path` it is NAME.FORMAT here.
    """
    chosen = format or (path.suffix.removeprefix(".").lower() if path is not None and path.suffix else "svg")
    if chosen not in FORMATS:
        raise ReportError(
            f"no figure can be written as {chosen!r}",
            f"choose --format {', '.join(FORMATS[:-1])} or {FORMATS[-1]}.",
        )
    figure = pick_figure(drawn, name)
    target = path or Path(f"{name}.{chosen}")
    return write_file(figure_bytes(figure, chosen), target)  # type: ignore[arg-type]  # it is one of FORMATS
