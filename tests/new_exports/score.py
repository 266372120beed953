"""How well pairband reads exports that it has never seen: `python -m tests.new_exports.score [first|second]`.

Each file's proposed map is compared with its truth file; then the file is read by the ideal map, and the sample
rows are compared with what a trade reader takes from them.
"""

import re
import sys
import tempfile
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import cached_property
from pathlib import Path
from typing import Any

from pipeline.config import ExportMap, Market
from pipeline.errors import PairbandError
from pipeline.ingest.proposal import propose_map
from pipeline.ingest.readers import Hints, read_tables
from pipeline.ingest.readers.export import open_export
from pipeline.ingest.run import ingest_files
from pipeline.ledger import Ledger, open_ledger
from pipeline.streams import say
from tests.new_exports.drawing import HERE

AS_OF = date(2026, 11, 20)
LOADED_AT = datetime(2026, 11, 20, 12)
HALVES = ("first", "second")
MARKS = ("price", "basis", "tax", "day", "order", "size", "grade", "status", "currency", "ask", "encoding")
DEFAULTS = {"date_order": "ymd", "decimal_mark": ".", "language": "en", "holds": "sales", "list_mark": ";"}
SETTINGS = ("venue", "currency", "price_basis", "tax", "size_system", *DEFAULTS)
NO_TAX = "none stated"
FOUND_ANYWAY = ("encoding", "delimiter", "header_row")
"""Keys that the reader finds by itself: an edit only where the proposal says something else."""


@dataclass(frozen=True)
class Truth:
    """What is right about an export, as its truth file has it."""

    path: Path
    said: Mapping[str, Any]

    @property
    def export(self) -> Path:
        """Return the export that the truth is about."""
        return self.path.parent / str(self.said["file"])

    @property
    def columns(self) -> Mapping[str, str]:
        """Return the heading of each meaning, and what the price counts."""
        return dict(self.said["columns"])

    @property
    def ideal(self) -> Mapping[str, Any]:
        """Return the ideal map, as the market file would have it."""
        [ideal] = self.said["maps"].values()
        says = says_tax() and self.columns["tax"] != NO_TAX
        return {**ideal, "tax": self.columns["tax"]} if says else dict(ideal)

    @property
    def rows(self) -> list[dict[str, Any]]:
        """Return the sample rows."""
        return list(self.said["rows"])

    @cached_property
    def market_text(self) -> Mapping[str, Any]:
        """Return the dealer's market file, which has no map."""
        return tomllib.loads((HERE / f"{self.said['dealer']}.market.toml").read_text("utf-8"))

    @property
    def market(self) -> Market:
        """Return the dealer's market without any map."""
        return Market.model_validate(self.market_text)

    @property
    def mapped_market(self) -> Market:
        """Return the dealer's market with the ideal map."""
        return self.market_with(self.said["maps"])

    def market_with(self, maps: Mapping[str, Any]) -> Market:
        """Return the dealer's market with maps of exports."""
        return Market.model_validate({**self.market_text, "maps": maps})


@dataclass(frozen=True)
class Score:
    """How one export was understood: a mark for each question (None: not to be asked), and what was read."""

    name: str
    marks: Mapping[str, bool | None]
    false_ask: bool
    edits: int
    rows: int
    rows_right: int
    pairs_right: int
    sales: int
    sales_read: int
    fault: str


def truths_of(half: str) -> list[Truth]:
    """Return the truth files of a half, by name."""
    paths = sorted((HERE / half).glob("*.truth.toml"))
    return [Truth(path, tomllib.loads(path.read_text("utf-8"))) for path in paths]


def score(truth: Truth) -> Score:
    """Score one export: pairband's own proposal, then the rows by the ideal map."""
    faults = []
    try:
        proposed = _proposed(truth)
    except PairbandError as exc:
        faults.append(f"no proposal: {exc}")
        proposed = {}
    try:
        rows_right, pairs_right, sales_read = _read(truth)
    except PairbandError as exc:
        faults.append(f"not read: {exc}")
        rows_right = pairs_right = sales_read = 0
    ask = _headings(proposed, "ask_native")
    return Score(
        name=truth.export.name,
        marks={**marks_of(truth, proposed), "encoding": bool(proposed) and _encoding_right(truth)},
        false_ask=bool(ask) and not _names(truth, ask, truth.columns["ask"]),
        edits=count_edits(truth, proposed),
        rows=len(truth.rows),
        rows_right=rows_right,
        pairs_right=pairs_right,
        sales=int(truth.said["counts"]["sales_of_one_pair"]),
        sales_read=sales_read,
        fault="; ".join(faults),
    )


def _proposed(truth: Truth) -> dict[str, Any]:
    """Return the proposed map as the TOML says it: what is left as a question is not in it."""
    said = tomllib.loads(propose_map(truth.export, truth.market).to_toml())
    [proposed] = said["maps"].values()
    return dict(proposed)


def _headings(export_map: Mapping[str, Any], *fields: str) -> list[str]:
    found = [export_map.get("columns", {}).get(field, []) for field in fields]
    return [each for one in found for each in ([one] if isinstance(one, str) else one)]


def _names(truth: Truth, headings: Iterable[str], heading: str) -> bool:
    """Say whether a heading is among others; in JSON a heading may be named with or without its path."""
    nested = truth.export.suffix in {".json", ".jsonl"}
    ways = [_path(each) for each in headings]
    wanted = _path(heading)
    if not nested:
        return wanted in ways
    return any(wanted.endswith(f".{way}") or way.endswith(f".{wanted}") or way == wanted for way in ways)


def _path(heading: str) -> str:
    return " ".join(heading.split()).replace("/", ".").casefold()


def marks_of(truth: Truth, proposed: Mapping[str, Any]) -> dict[str, bool | None]:
    """Return for each question whether a proposed map has the right answer."""
    columns = truth.columns
    if not proposed:
        return {
            mark: None if mark == "tax" and not says_tax() else False for mark in MARKS if mark != "encoding"
        }

    def right(meaning: str, *fields: str) -> bool:
        headings = _headings(proposed, *fields)
        if columns[meaning] in {"", "none"}:
            return not headings
        return _names(truth, headings, columns[meaning])

    def in_a_title(meaning: str, field: str) -> bool:
        if columns[meaning] == "title":
            return not _headings(proposed, field) and bool(_headings(proposed, "title"))
        return (
            right(meaning, field, "title") if columns[meaning] not in {"", "none"} else right(meaning, field)
        )

    system = proposed.get("size_system") or truth.ideal.get("size_system")
    tax = proposed.get("tax", NO_TAX)
    ask = _headings(proposed, "ask_native")
    return {
        "price": right("price", "price_native"),
        "basis": proposed.get("price_basis") == columns["price_basis"],
        "tax": tax == columns["tax"] if says_tax() else None,
        "day": right("day", "sold_on", "closed_on"),
        "order": columns["date_order"] in {"any", proposed.get("date_order", DEFAULTS["date_order"])},
        "size": in_a_title("size", "size_label") and system == truth.ideal.get("size_system"),
        "grade": in_a_title("grade", "grade"),
        "status": right("status", "status"),
        "currency": _currency_right(truth, proposed),
        "ask": right("ask", "ask_native") if columns["ask"] else not ask,
    }


def says_tax() -> bool:
    """Say whether an export map can say yet how its prices stand to tax."""
    return "tax" in ExportMap.model_fields


def _currency_right(truth: Truth, proposed: Mapping[str, Any]) -> bool:
    stated, code = proposed.get("currency"), truth.rows[0]["currency"]
    if heading := truth.columns.get("currency_heading"):
        return _names(truth, _headings(proposed, "currency"), heading) or stated == code
    usual = {venue.name: venue.currency for venue in truth.market.venues}.get(str(proposed.get("venue")))
    return (stated or usual) == code


def _encoding_right(truth: Truth) -> bool:
    """Say whether the headings and a cell beyond ASCII are read as they are written."""
    tables = read_tables(open_export(truth.export), Hints())
    read = [name for table in tables for name in table.cells.columns]
    wanted = [heading for key, heading in truth.columns.items() if key in MARKS and heading in _stated(truth)]
    texts = "\n".join(str(cell) for table in tables for row in table.cells.rows() for cell in row)
    return all(_names(truth, read, heading) for heading in wanted) and str(truth.said["written_so"]) in texts


def _stated(truth: Truth) -> list[str]:
    return [str(heading) for heading in truth.said["headings"]]


def count_edits(truth: Truth, proposed: Mapping[str, Any]) -> int:
    """Count the keys in which a proposed map differs from the ideal one, apart from its file pattern."""
    ideal = truth.ideal
    tables = [DEFAULTS.get(key) for key in SETTINGS]
    edits = sum(
        proposed.get(key, usual) != ideal.get(key, usual) for key, usual in zip(SETTINGS, tables, strict=True)
    )
    edits += sum(key in proposed and proposed[key] != ideal.get(key, proposed[key]) for key in FOUND_ANYWAY)
    for field in {*ideal["columns"], *proposed.get("columns", {})}:
        here, there = _headings(ideal, field), _headings(proposed, field)
        alike = len(here) == len(there) and all(_names(truth, there, heading) for heading in here)
        edits += not alike
    words = {word.casefold(): meaning for word, meaning in ideal.get("status_words", {}).items()}
    others = {word.casefold(): meaning for word, meaning in proposed.get("status_words", {}).items()}
    return edits + sum(words.get(word) != others.get(word) for word in {*words, *others})


def _read(truth: Truth) -> tuple[int, int, int]:
    """Return by the ideal map: sample rows as the truth has them, their pairs, and sales read in all."""
    with (
        tempfile.TemporaryDirectory() as folder,
        open_ledger(Path(folder) / "l.duckdb", create=True) as ledger,
    ):
        [(name, ideal)] = truth.said["maps"].items()
        market = truth.market_with({name: {**ideal, "columns": _as_read(truth, ideal["columns"])}})
        ingest_files(ledger, market, [truth.export], map_name=name, as_of=AS_OF, loaded_at=LOADED_AT)
        return _compare(truth, ledger)


def _as_read(truth: Truth, columns: Mapping[str, Any]) -> dict[str, Any]:
    """Return the ideal columns by the headings that the reader gives: in JSON a path may be longer or shorter."""
    read = [name for table in read_tables(open_export(truth.export), Hints()) for name in table.cells.columns]

    def named(heading: str) -> str:
        return (
            heading
            if heading in read
            else next((name for name in read if _names(truth, [name], heading)), heading)
        )

    return {
        field: named(one) if isinstance(one, str) else [*map(named, one)] for field, one in columns.items()
    }


def _compare(truth: Truth, ledger: Ledger) -> tuple[int, int, int]:
    names = (
        "row_number",
        "title",
        "price_native",
        "sold_on",
        "size_label",
        "status",
        "currency",
        "silhouette",
    )
    rows = ledger.connection.execute(f"SELECT {', '.join(names)}, era, grade FROM staged_rows").fetchall()
    staged = [dict(zip((*names, "era", "grade"), row, strict=True)) for row in rows]
    right = pairs = 0
    for wanted in truth.rows:
        at = int(wanted["row"]) + int(truth.said["first_row"]) - 1
        same = [each for each in staged if _starts(each["title"], wanted["title"])]
        found = min(same, key=lambda each: abs(each["row_number"] - at), default=None)
        if found is not None:
            right += _row_right(wanted, found)
            pairs += all(found[name] == wanted[name] for name in ("silhouette", "era"))
    return right, pairs, sum(each["status"] == "sold" for each in staged)


def _starts(text: str | None, title: str) -> bool:
    return " ".join((text or "").split()).startswith(" ".join(title.split()))


def _row_right(wanted: Mapping[str, Any], found: Mapping[str, Any]) -> bool:
    """Say whether a row is read as a trade reader would: of an offer that was no sale only how it ended."""
    if wanted["status"] != "sold":
        return bool(found["status"] == wanted["status"] and found["sold_on"] is None)
    checks: tuple[Callable[[], bool], ...] = (
        lambda: found["status"] == "sold",
        lambda: found["currency"] == wanted["currency"],
        lambda: found["price_native"] == Decimal(wanted["price_native"]),
        lambda: str(found["sold_on"]) == wanted["sold_on"],
        lambda: first_size(found["size_label"] or "") == first_size(wanted["size_label"]),
        lambda: "grade" not in wanted or found["grade"] == wanted["grade"],
    )
    return all(check() for check in checks)


def first_size(label: str) -> float | None:
    """Return the first number of a size label, whatever the decimal mark: 42.5 for "EU 42½ / UK 8.5"."""
    found = re.search(r"\d+(?:[.,]\d+)?½?", label)
    if found is None:
        return None
    text = found[0].replace(",", ".")
    return float(text.removesuffix("½")) + 0.5 * text.endswith("½")


def totals(scores: list[Score]) -> list[str]:
    """Return the totals of a half, one line a question."""
    lines = []
    for mark in MARKS:
        asked = [each.marks[mark] for each in scores if each.marks[mark] is not None]
        lines.append(f"{mark:10} {sum(map(bool, asked)):4} of {len(asked)}")
    rows, edits = sum(each.rows for each in scores), sum(each.edits for each in scores)
    return [
        *lines,
        f"false asks {sum(each.false_ask for each in scores):4}",
        f"edits      {edits:4}, {edits / len(scores):.1f} a file",
        f"rows right by the ideal map  {sum(each.rows_right for each in scores)} of {rows}",
        f"silhouette and era right     {sum(each.pairs_right for each in scores)} of {rows}",
        f"sales of one pair            {sum(each.sales for each in scores)}, "
        f"read as sales {sum(each.sales_read for each in scores)}",
    ]


def line_of(one: Score) -> str:
    """Return the line of one file: a letter for each right mark, a point for a wrong one, then the counts."""
    signs = "".join(
        f"{'-' if one.marks[mark] is None else 'x' if one.marks[mark] else '.':>{len(mark) + 1}}"
        for mark in MARKS
    )
    read = f"{one.rows_right:5}/{one.rows} {one.pairs_right:5}/{one.rows} {one.sales_read:5}/{one.sales}"
    counts = f"{one.edits:6} {read}"
    return f"{one.name[:36]:36}{signs}{counts}" + (f"\n    {one.fault[:160]}" if one.fault else "")


def main() -> None:
    """Score the halves that are named, or both."""
    for half in sys.argv[1:] or HALVES:
        scores = [score(truth) for truth in truths_of(half)]
        say(f"{half:36} {' '.join(MARKS)} edits rows right pairs right sales read")
        for one in scores:
            say(line_of(one))
        for line in totals(scores):
            say(line)
        say("")


if __name__ == "__main__":
    main()
