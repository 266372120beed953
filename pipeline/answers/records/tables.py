"""Records in a list, and one of them beside what its rows say."""

from collections.abc import Mapping
from typing import Any

from pipeline import __version__, formats
from pipeline.answers.records.answer import (
    OneRecord,
    PairHistory,
    Records,
    RemovedRow,
    RowBeside,
    WrittenSales,
)
from pipeline.answers.review.tables import decisions_table
from pipeline.answers.sheet import NONE, Column, Sheet, Table, amount, day, table, words
from pipeline.answers.stock.tables import history_table
from pipeline.answers.understood.tables import USES, field_title, origin_title
from pipeline.untrusted import show_words

MOST_TITLE, MOST_VALUE = 60, 80
CORRECTED = "corrected"


def records_sheet(found: Records) -> Sheet:
    """Return the list of records, as far as they are shown."""
    more = found.matching - len(found.listed)
    said = (f"The newest {formats.count(len(found.listed))} are shown; --limit 0 shows all.",) if more else ()
    return Sheet(
        title=f"{formats.count(len(found.listed))} of " * bool(more)
        + formats.counted(found.matching, "record"),
        sentences=said,
        tables=(records_table(found).marked(detail=("venue",), cut=("pair", "notes", "era", "size")),),
        source="`pairband records ID` shows one beside its rows; `pairband correct ID field=value` corrects it.",
    )


def records_table(found: Records) -> Table:
    """Return one row a record."""
    return table(
        "records",
        "Records, the newest first",
        (
            words("short_id", "Record"),
            words("day", "Day"),
            Column("pair", "Pair", describe=_pair),
            amount("price_paid", f"Paid, {found.currency}", found.currency),
            Column("notes", "Note", describe=_notes),
            words("era", "Era"),
            Column("size", "Size", describe=_size),
            Column("grade", "Grade", lambda grade: f"{grade:g}", number=True),
            words("venue", "Venue"),
        ),
        [vars(record) for record in found.listed],
    )


def written_sheet(written: WrittenSales) -> Sheet:
    """Return what was written into files."""
    return Sheet(
        title=f"{formats.counted(written.sales, 'sale')} in {formats.counted(written.files, 'file')} in "
        f"{show_words(str(written.folder), MOST_TITLE)}",
        sentences=("`pairband fit --sales` with the name of that folder fits the market to them.",),
        warnings=(
            f"{formats.counted(written.excluded, 'sale')} excluded until you decide (see `pairband review`).",
        )
        * bool(written.excluded),
    )


def removed_sheet(rows: tuple[RemovedRow, ...], currency: str) -> Sheet:
    """Return the list of the rows that were removed."""
    return Sheet(
        title=f"{formats.counted(len(rows), 'row')} removed",
        tables=(removed_table(rows, currency).marked(cut=("title", "place")),),
        source="`pairband decisions` lists your decisions; `pairband undo ID` takes one back.",
    )


def removed_table(rows: tuple[RemovedRow, ...], currency: str) -> Table:
    """Return one row a row that was removed."""
    return table(
        "removed",
        "Rows that you removed",
        (
            words("short_id", "Record"),
            day("day", "Day"),
            Column("title", "Title", lambda title: show_words(title, MOST_TITLE)),
            amount("price_paid", f"Paid, {currency}", currency),
            Column("place", "Row", describe=_place),
        ),
        [vars(row) for row in rows],
    )


def record_sheet(found: OneRecord) -> Sheet:
    """Return the sheet of one record: what is known, its rows beside their cells, decisions, other offers."""
    return Sheet(
        title=f"{found.record_id} {show_words(found.title, MOST_TITLE)}".strip(),
        figures=_figures(found),
        tables=(
            table(
                "known",
                "What is known",
                (Column("field", "Field", field_title), Column("value", "Value", _value)),
                [{"field": field, "value": text} for field, text in found.known.items()],
            ).as_detail(),
            *(_row_table(row, number) for number, row in enumerate(found.rows, start=1)),
            decisions_table(found.decisions, found.short_ids),
            table(
                "offers",
                "Other offers of the same pair",
                (
                    words("short_id", "Record"),
                    day("day", "Day"),
                    words("status", "Status"),
                    amount("price_paid", f"Paid, {found.currency}", found.currency),
                    words("venue", "Venue"),
                ),
                found.offers,
            ),
            *((history_table(found.history, {}),) if found.history.height else ()),
        ),
        source=f"From the ledger as it stands; pairband {__version__}.",
    )


def pair_sheet(found: PairHistory) -> Sheet:
    """Return the sheet of a stock number: what happened to its pair, in the order of days."""
    several = len(found.bought) > 1
    days = ", ".join(map(formats.day, found.bought))
    return Sheet(
        title=" ".join(
            filter(None, (show_words(found.number, MOST_TITLE), show_words(found.pair, MOST_TITLE)))
        ),
        sentences=(f"The number stands for {len(found.bought)} pairs, bought on {days}.",) if several else (),
        tables=(history_table(found.events, found.short_ids),),
        source="`pairband records ID` shows one record beside its rows; `pairband stock` values what is there.",
    )


def _figures(found: OneRecord) -> tuple[tuple[str, str], ...]:
    figures = [("In the fit", "yes" if found.use == "in the fit" else f"no: {USES[found.use]}")]
    if found.price_paid is not None:
        figures.append(("Paid", formats.amount(found.price_paid, found.currency)))
    if found.value is not None:
        figures.append(("The fit's value on that day", formats.estimate(found.value, found.currency)))
    return tuple(figures)


def _row_table(row: RowBeside, number: int) -> Table:
    corrected = Column(CORRECTED, "Corrected", lambda text: _value(text) if text else "not known")
    return table(
        f"row {number}",
        f"Row {_place(vars(row))}",
        (
            Column("field", "Field", field_title),
            Column("cells", "The export says", lambda cells: show_words(cells, MOST_VALUE) or NONE),
            Column("read", "Read as", _value),
            Column("origin", "From", origin_title),
            *([corrected] if any(one.corrected is not None for one in row.fields) else []),
        ),
        [vars(one) for one in row.fields],
        note=row.price_note
        if row.has_cells
        else "The cells of a file that an earlier version read come with its next `pairband ingest`.",
    )


def _pair(row: Mapping[str, Any]) -> str:
    named = " ".join(filter(None, (row["silhouette"], row["colourway"])))
    return show_words(named or row["title"] or "", MOST_TITLE) or NONE


def _notes(row: Mapping[str, Any]) -> str:
    notes = [CORRECTED] if row["is_corrected"] else []
    if row["use"] != "in the fit":
        notes.append(USES[row["use"]].replace(" (`pairband review`)", ""))
    return ", ".join(notes)


def _size(row: Mapping[str, Any]) -> str:
    label, system = row["size_label"], row["size_system"]
    if label is None:
        return NONE
    return label if system is None or system in label else f"{system} {label}"


def _place(row: Mapping[str, Any]) -> str:
    sheet = f", {row['sheet']}" if row["sheet"] else ""
    return f"{row['row_number']} of {show_words(row['file_name'], MOST_VALUE)}{sheet}"


def _value(text: str) -> str:
    return show_words(text, MOST_VALUE) or NONE
