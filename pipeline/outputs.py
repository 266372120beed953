"""Where an answer goes: the terminal or JSON, and what files are asked for of it: page, figure, CSV, workbook."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, Protocol, TypeVar

import click

from pipeline import formats
from pipeline.captured import captured, takes_pages
from pipeline.streams import say

if TYPE_CHECKING:
    from pipeline.answers.sheet import Sheet, Table
    from pipeline.pictures.album import Album
    from pipeline.workspace import Workspace
    from reports.page import Figure

DETAILS = "pairband.details"
"""Where a command notes whether --details was given, in click's `meta`."""

T = TypeVar("T")
Answer = TypeVar("Answer", contravariant=True)


class PageOf(Protocol[Answer]):
    """What makes the page of an answer; `business` is the owner's name and town."""

    def __call__(self, answer: Answer, /, *, business: str) -> str:
        """Return the page as HTML."""


class FigureFile(NamedTuple):
    """One figure of a page that is asked for by name, the format, and the file for it."""

    name: str
    format: str | None
    file: Path | None


@dataclass(frozen=True)
class Outputs:
    """Where an answer of a workspace goes."""

    workspace: "Workspace"
    as_json: bool
    page: Path | None
    figure: FigureFile | None
    csv: Path | None
    excel: Path | None
    kept: bool | None = None

    @property
    def keeps(self) -> bool:
        """Whether the answer is to be kept in the ledger: as the command line says, else the market file."""
        return self.workspace.market.outcomes.keep if self.kept is None else self.kept

    @property
    def drawn(self) -> bool:
        """Whether a page or a figure is asked for."""
        return self.page is not None or self.figure is not None

    def refuse_figure_of_several(self, pairs: int) -> None:
        """Raise BadParameter where a figure is asked for, and not of one pair."""
        if self.figure is not None and pairs != 1:
            raise click.BadParameter("a figure is of one pair: name its --row", param_hint="--figure")

    def draw(
        self,
        answers: Sequence[T],
        page_of: PageOf[T],
        figures_of: "Callable[[T], Sequence[Figure]] | None" = None,
    ) -> None:
        """Write the pages and the figure that are asked for; several pages are numbered: pair.html, pair-2.html, …"""
        if self.page is not None:
            for number, answer in enumerate(answers, start=1):
                path = self.page if number == 1 else self.page.with_stem(f"{self.page.stem}-{number}")
                self.write(page_of(answer, business=self.workspace.business), path)
        if self.figure is not None:
            from reports.figure_file import write_figure

            drawn = figures_of(answers[0]) if figures_of is not None else ()
            self._say_written(write_figure(drawn, *self.figure))

    def write(self, html: str, path: Path) -> None:
        """Write one page and say so."""
        from reports.page import write_page

        self._say_written(write_page(html, path))

    def tabulate(self, table: "Table") -> None:
        """Write the rows of a table as the CSV and the workbook that are asked for."""
        if (kept := captured()) is not None:
            kept.tables.append(table)
            return
        if self.csv is not None or self.excel is not None:
            from reports.export import write_table

            for path in write_table(table, csv=self.csv, excel=self.excel):
                self._say_written(path)

    def say_unshown(self, album: "Album") -> None:
        """Say which pictures could not be shown, and why."""
        for note in album.notes:
            say(note, err=self.as_json)

    def say_kept(self, new: int) -> None:
        """Say how many values were kept."""
        say(f"kept {formats.counted(new, 'value')}; `pairband outcomes` judges them later", err=self.as_json)

    def _say_written(self, path: Path) -> None:
        if takes_pages():
            return
        say(f"wrote {path}", err=self.as_json)  # stdout is JSON then


def wants_details() -> bool | None:
    """Return whether the command was asked for details; None where it has no such option."""
    asked: bool | None = click.get_current_context().meta.get(DETAILS)
    return asked


def show_answer(
    answer: T,
    sheet_of: "Callable[[T], Sheet]",
    *,
    as_json: bool,
    document: Callable[[T], object] | None = None,
    limits: bool = True,
    most_rows: int = 0,
) -> None:
    """Print an answer: its sheet in the terminal, or as JSON itself, or what `document` makes of it.

    `most_rows` is how many rows of a table are shown where that is more than usual. Details are shown if the command
    was asked for them, or has no such option.
    """
    if as_json:
        from pipeline.terminal.console import show_json

        show_json(document(answer) if document else answer)
    else:
        from pipeline.terminal.sheet import MOST_ROWS, show_sheet

        most = max(most_rows, MOST_ROWS)
        show_sheet(sheet_of(answer), limits=limits, most_rows=most, details=wants_details())
