"""What became of every row of the exports."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from pipeline.answers.ingest.run import Ingested
from pipeline.answers.sheet import NONE, Brief, Detail, Sheet, Table, count, table, words
from pipeline.formats import counted
from pipeline.ingest.replacement import MOST_SHOWN
from pipeline.ingest.run import FileOutcome, IngestRun
from pipeline.untrusted import show_words

COUNTS = ("read", "recorded", "duplicates", "quarantined", "put_aside")
MOST_CHANGES = 10
"""The rows that a replacement changed which are shown without details."""

MOST_VALUE = 60
"""The longest value of a cell that is shown."""


def ingest_sheet(run: Ingested) -> Sheet:
    """Return the sheet of a run: every row recorded, duplicate or quarantined, and why."""
    return Sheet(
        title="Exports read",
        sentences=(row_sentence(run), *_replacements(run), *map(Brief, _of_several(run))),
        tables=(
            count_table(run).marked(detail=("map_name",), cut=("file",)),
            *(replace(one, first=MOST_CHANGES) for one in _changes(run)),
        ),
        warnings=(
            *map(Brief, _together(run)),
            *(Detail(warning) for file in run.files for warning in _warnings(file)),
        ),
        source="\n".join((*_notes(run), *run.notes)),
    )


def row_sentence(run: IngestRun) -> str:
    """Return the account of all rows."""
    read, recorded, duplicates, quarantined, put_aside = (
        sum(getattr(file, name) for file in run.files) for name in COUNTS
    )
    further = sum(file.further_pairs for file in run.files)
    rows = f"{read:,} rows read + {further:,} from quantities" if further else f"{read:,} rows read"
    account = f"{rows} = {recorded:,} recorded + {duplicates:,} duplicates + {quarantined:,} quarantined"
    return f"{account} + {put_aside:,} put aside as no sale of one pair" if put_aside else account


def _replacements(run: IngestRun) -> Iterator[str]:
    for file in run.files:
        for one in file.replaced:
            other = "its earlier reading" if one.name == file.name else f"what was read of {one.name}"
            yield (
                f"{file.name} takes the place of {other}: {counted(one.unchanged, 'row')} as before, "
                f"{one.changed:,} changed, {one.fresh:,} new, {one.gone:,} gone."
            )


def _changes(run: IngestRun) -> Iterator[Table]:
    """Yield the table of what replacements changed, the first rows of each kind."""
    rows = [
        {
            "file": file.name,
            "kind": change.kind,
            "row_number": change.row_number,
            "column": change.column or NONE,
            "before": _cell(change.before),
            "after": _cell(change.after),
        }
        for file in run.files
        for one in file.replaced
        for change in one.examples
    ]
    if rows:
        columns = (
            words("file", "File"),
            words("kind", "Change"),
            count("row_number", "Row"),
            words("column", "Column"),
            words("before", "Before"),
            words("after", "After"),
        )
        note = f"At most {MOST_SHOWN} rows of each kind are shown."
        yield table("changes", "What changed since the earlier reading", columns, rows, note)


def _cell(text: str | None) -> str:
    return NONE if text is None else show_words(text, MOST_VALUE)


def count_table(run: IngestRun) -> Table:
    """Return the counts of rows, one row a file."""
    return table(
        "files",
        "Rows by file",
        (
            words("file", "File"),
            words("map_name", "Map"),
            count("read", "Rows"),
            count("recorded", "Recorded"),
            count("duplicates", "Duplicates"),
            count("quarantined", "Quarantined"),
            *([count("put_aside", "Put aside")] if any(file.put_aside for file in run.files) else []),
            *([words("state", "Read before")] if any(file.unchanged for file in run.files) else []),
        ),
        [
            {
                "file": file.name,
                "state": "unchanged" if file.unchanged else None,
                "map_name": file.map_name,
                **{name: getattr(file, name) for name in COUNTS},
            }
            for file in run.files
        ],
    )


def _of_several(run: Ingested) -> Iterator[str]:
    """Yield where to see what was understood of several new files, and which of them hold odd values."""
    if len(run.understood) < 2:
        return
    odd = [
        f"{show_words(name, MOST_VALUE)} ({sum(one.odd_rows.values()):,})"
        for one in run.understood
        for name in one.files
        if one.odd_rows
    ]
    yield (
        f"Odd values: {', '.join(odd) or 'none'}. What was understood of each file: `pairband understood FILE`, or "
        "`--details`."
    )


def _together(run: IngestRun) -> Iterator[str]:
    """Yield what went wrong in all files together, each once, with how often and where."""
    rows: Counter[str] = Counter()
    files: dict[str, list[str]] = {}
    for file in run.files:
        found = Counter({f"flagged: {flag}": number for flag, number in file.flags.items()})
        for reason in file.reasons:
            found[f"{reason.kind}: {reason.field}: {reason.reason}"] += reason.rows
        rows += found
        for what in found:
            files.setdefault(what, []).append(file.name)
    for what, names in files.items():
        where = names[0] if len(names) == 1 else counted(len(names), "file")
        yield f"{counted(rows[what], 'row')} {what} ({where})"


def _notes(run: IngestRun) -> Iterator[str]:
    """Yield the notes on files, each once, with the files that it is about."""
    files: dict[str, list[str]] = {}
    for file in run.files:
        for note in file.notes:
            files.setdefault(note, []).append(file.name)
    for note, names in files.items():
        yield f"{', '.join(names)}: {note}"


def _warnings(file: FileOutcome) -> Iterator[str]:
    for reason in file.reasons:
        value = "" if reason.value is None else f" ({show_words(reason.value, MOST_VALUE)!r})"
        yield (
            f"{file.name}: {reason.kind}: {reason.rows} × {reason.field}: {reason.reason}; "
            f"first in row {reason.row_number}{value}"
        )
    for flag, rows in file.flags.items():
        yield f"{file.name}: {rows} flagged: {flag}"
