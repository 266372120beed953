"""A dealer's folder in a notebook: each answer as sentences, frames and charts that show themselves.

Example:

    from pipeline.notebook import open_folder

    folder = open_folder("demo")
    gannet = folder.appraise(silhouette="Gannet Hi", era="first", size="UK 9", grade="8")
    gannet.sentences
    gannet.tables["steps"]
    gannet.charts["band"]
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import altair as alt
import polars as pl
from markupsafe import Markup

from pipeline import clock
from pipeline.answers.sheet import Brief, Sheet, Table
from pipeline.market.subject import Description
from pipeline.untrusted import show_sentences, show_words
from pipeline.workspace import Workspace
from reports.page import Figure


@dataclass(frozen=True)
class Reply:
    """An answer of pairband: the answer itself, its sheet, and its charts by name.

    A notebook shows it as its key figures, sentences, tables and warnings.
    """

    answer: Any
    sheet: Sheet
    charts: Mapping[str, alt.LayerChart]

    @property
    def sentences(self) -> tuple[str, ...]:
        """The answer in words, then what to be careful of."""
        said = (*self.sheet.sentences, *self.sheet.warnings)
        return tuple(sentence for sentence in said if not isinstance(sentence, Brief))

    @property
    def figures(self) -> dict[str, str]:
        """The key figures by name, as people read them."""
        return dict(self.sheet.figures)

    @property
    def tables(self) -> dict[str, pl.DataFrame]:
        """The tables by key, typed."""
        return {table.key: table.rows for table in self.sheet.tables if not table.brief}

    def _repr_html_(self) -> str:
        parts = [Markup("<h3>{}</h3>").format(show_words(self.sheet.title))]
        parts += [
            Markup("<p>{}: <b>{}</b></p>").format(show_words(name), show_words(value))
            for name, value in self.sheet.figures
        ]
        parts += [Markup("<p>{}</p>").format(show_sentences(sentence)) for sentence in self.sentences]
        parts += [_html(table) for table in self.sheet.tables if not (table.brief or table.rows.is_empty())]
        return "\n".join(parts)


class Folder:
    """The answers of one folder, each on today's day unless `as_of` names another."""

    def __init__(self, workspace: Workspace) -> None:
        self.workspace = workspace

    def _reply(self, answer: Any, sheet: Sheet, figures: Sequence[Figure]) -> Reply:
        """Return a reply, and let go of the ledger, so that exports can be read while the notebook is open."""
        self.workspace.close()
        return Reply(answer, sheet, {figure.key: figure.chart for figure in figures})

    def appraise(self, *, as_of: date | None = None, **words: str) -> Reply:
        """Value a pair that is described in the words of `pairband appraise`."""
        from pipeline.answers.appraisal.run import appraise_descriptions
        from pipeline.answers.appraisal.tables import appraisal_sheet
        from reports.appraisal.page import appraisal_figures

        [found] = appraise_descriptions(self.workspace, [Description(**words)], as_of=as_of or clock.today())
        return self._reply(found, appraisal_sheet(found), appraisal_figures(found))

    def consign(self, *, as_of: date | None = None, **words: str) -> Reply:
        """Price a consignment of a pair that is described in the words of `pairband consign`."""
        from pipeline.answers.consignment.run import consign_descriptions
        from pipeline.answers.consignment.tables import consignment_sheet
        from reports.consignment.page import consignment_figures

        [found] = consign_descriptions(self.workspace, [Description(**words)], as_of=as_of or clock.today())
        return self._reply(found, consignment_sheet(found), consignment_figures(found))

    def lots(self, file: str | Path, *, as_of: date | None = None) -> Reply:
        """Value a file of upcoming lots."""
        from pipeline.answers.lots.run import value_lot_file
        from pipeline.answers.lots.tables import lots_sheet
        from reports.lots.page import lots_figures

        found = value_lot_file(self.workspace, Path(file), as_of=as_of or clock.today())
        return self._reply(found, lots_sheet(found), lots_figures(found))

    def restore(self, stock: str | Path | None = None, *, as_of: date | None = None) -> Reply:
        """Say what each treatment does to a price, and which pairs of a stock list to restore next."""
        from pipeline.answers.restoration.run import restore_stock
        from pipeline.answers.restoration.tables import restoration_sheet
        from reports.restoration.page import restoration_figures

        file = None if stock is None else Path(stock)
        found = restore_stock(self.workspace, file, as_of=as_of or clock.today())
        return self._reply(found, restoration_sheet(found), restoration_figures(found))

    def stock(self, file: str | Path | None = None, *, by: str = "era", as_of: date | None = None) -> Reply:
        """Value the stock of the ledger, or that of a list: each pair, groups of them, and all together."""
        from pipeline.answers.stock.run import value_stock
        from pipeline.answers.stock.tables import stock_sheet
        from reports.stock.page import stock_drawings

        named = None if file is None else Path(file)
        found = value_stock(self.workspace, named, as_of=as_of or clock.today(), by=by)
        return self._reply(found, stock_sheet(found), stock_drawings(found))

    def changed(
        self, file: str | Path | None = None, *, since: date | None = None, as_of: date | None = None
    ) -> Reply:
        """Say what changed of the values of the stock of the ledger, or of a list, since an earlier day, and why."""
        from pipeline.answers.changed.run import explain_changes
        from pipeline.answers.changed.tables import changed_sheet
        from reports.changed.page import changed_drawings

        found = explain_changes(
            self.workspace,
            None if file is None else Path(file),
            since=since,
            earlier_list=None,
            as_of=as_of or clock.today(),
        )
        return self._reply(found, changed_sheet(found), changed_drawings(found))

    def market(self, *, as_of: date | None = None) -> Reply:
        """Show what the market did, how busy the venues were, and what each attribute is worth."""
        from pipeline.answers.market_view.run import view_ledger
        from pipeline.answers.market_view.tables import market_sheet
        from reports.market_view.page import market_figures

        found = view_ledger(self.workspace, as_of=as_of or clock.today())
        return self._reply(found, market_sheet(found), market_figures(found))

    def audit(self, *, as_of: date | None = None) -> Reply:
        """Test values and bands on later sales."""
        from pipeline.answers.audit.run import audit_ledger
        from pipeline.answers.audit.tables import audit_sheet
        from reports.audit.page import audit_figures

        found = audit_ledger(self.workspace, as_of=as_of or clock.today())
        return self._reply(found, audit_sheet(found), audit_figures(found))

    def words(self) -> Reply:
        """List words of titles that move the price and that no field reads."""
        from pipeline.answers.title_words.run import find_words_of_ledger
        from pipeline.answers.title_words.tables import words_sheet

        found = find_words_of_ledger(self.workspace)
        return self._reply(found, words_sheet(found), ())


def open_folder(folder: str | Path = ".") -> Folder:
    """Open the folder that holds market.toml and pairband.duckdb; nothing is read before it is asked for."""
    return Folder(Workspace.open(folder))


def _html(table: Table) -> Markup:
    head = Markup("").join(Markup("<th>{}</th>").format(column.heading) for column in table.columns)
    rows = Markup("").join(
        Markup("<tr>{}</tr>").format(
            Markup("").join(Markup("<td>{}</td>").format(show_words(text)) for text in row)
        )
        for row in table.texts()
    )
    return Markup("<table><caption>{}</caption><tr>{}</tr>{}</table>").format(table.title, head, rows)
