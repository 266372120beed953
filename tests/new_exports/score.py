"""How well pairband reads exports that it has never seen: `python -m tests.new_exports.score [PART]`.

The parts are `first`, `second`, `third`, `fourth`, `fifth`, `sixth`, `seventh` and `eighth`. Each file's proposed map
is compared with its truth file; then the file is read by the ideal map, and the sample rows are compared with what a
trade reader takes from them.
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

from pipeline.config import Market
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
HALVES = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")
OPEN = ("first", "third", "fourth", "fifth", "sixth", "seventh", "eighth")
"""The parts whose misses may be looked at."""
MARKS = ("price", "basis", "tax", "day", "order", "size", "grade", "status", "currency", "ask", "encoding")
DEFAULTS = {"date_order": "ymd", "decimal_mark": ".", "language": "en", "holds": "sales", "list_mark": ";"}
SETTINGS = (
    "venue",
    "currency",
    "price_basis",
    "quantity_price",
    "tax",
    "tax_rate",
    "tax_column",
    "size_system",
    *DEFAULTS,
)
NO_TAX = "none stated"
FOUND_ANYWAY = ("delimiter", "header_row")
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
        return dict(ideal)

    @property
    def rows(self) -> list[dict[str, Any]]:
        """Return the sample rows."""
        return list(self.said["rows"])

    @property
    def nested(self) -> bool:
        """Say whether the export is JSON of orders with lines, whose rows have no number in the file."""
        return bool(self.said["format"] == "json")

    def place_of(self, row: Mapping[str, Any]) -> int:
        """Return the row of the file in which a row of the truth stands."""
        return int(row["row"]) + int(self.said["first_row"]) - 1

    @property
    def no_pairs(self) -> list[dict[str, Any]]:
        """Return the rows that are no pair, or more than one."""
        return list(self.said.get("no_pair", []))

    @cached_property
    def market_text(self) -> Mapping[str, Any]:
        """Return the dealer's market file, which has no map; a file of rates lies beside it."""
        said = tomllib.loads((HERE / f"{self.said['dealer']}.market.toml").read_text("utf-8"))
        if rates := said.get("rates"):
            rates["file"] = str(HERE / rates["file"])
        return said

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
    """How one export was understood: a mark for each question, and what was read."""

    name: str
    marks: Mapping[str, bool]
    false_ask: bool
    edits: int
    rows: int
    rows_right: int
    pairs_right: int
    sales: int
    sales_read: int
    odd: int
    odd_read: int
    fault: str


@dataclass(frozen=True)
class Found:
    """What came of a file by its ideal map: sample rows and pairs that are right, sales, no pairs among them."""

    rows: int
    pairs: int
    sales: int
    no_pairs: int


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
        found = _read(truth)
    except PairbandError as exc:
        faults.append(f"not read: {exc}")
        found = Found(0, 0, 0, 0)
    ask = _headings(proposed, "ask_native")
    return Score(
        name=truth.export.name,
        marks={**marks_of(truth, proposed), "encoding": bool(proposed) and _encoding_right(truth)},
        false_ask=bool(ask) and not _names(truth, ask, truth.columns["ask"]),
        edits=len(edits_of(truth, proposed)),
        rows=len(truth.rows),
        rows_right=found.rows,
        pairs_right=found.pairs,
        sales=int(truth.said["counts"]["sales_of_one_pair"]),
        sales_read=found.sales,
        odd=len(truth.no_pairs),
        odd_read=found.no_pairs,
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
    return any(f".{wanted}".endswith(f".{way}") or f".{way}".endswith(f".{wanted}") for way in ways)


def _path(heading: str) -> str:
    return " ".join(heading.split()).replace("/", ".").casefold()


def marks_of(truth: Truth, proposed: Mapping[str, Any]) -> dict[str, bool]:
    """Return for each question whether a proposed map has the right answer."""
    columns = truth.columns
    if not proposed:
        return {mark: False for mark in MARKS if mark != "encoding"}

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
    ask = _headings(proposed, "ask_native")
    return {
        "price": right("price", "price_native"),
        "basis": proposed.get("price_basis") == columns["price_basis"],
        "tax": proposed.get("tax", NO_TAX) == columns["tax"],
        "day": right("day", "sold_on", "closed_on"),
        "order": columns["date_order"] in {"any", proposed.get("date_order", DEFAULTS["date_order"])},
        "size": in_a_title("size", "size_label") and system == truth.ideal.get("size_system"),
        "grade": in_a_title("grade", "grade"),
        "status": right("status", "status"),
        "currency": _currency_right(truth, proposed),
        "ask": right("ask", "ask_native") if columns["ask"] else not ask,
    }


def _currency_right(truth: Truth, proposed: Mapping[str, Any]) -> bool:
    stated, code = proposed.get("currency"), str(truth.rows[0]["currency"])
    if heading := truth.columns.get("currency_heading"):
        return _names(truth, _headings(proposed, "currency"), heading) or bool(stated == code)
    usual = {venue.name: venue.currency for venue in truth.market.venues}.get(str(proposed.get("venue")))
    return bool((stated or usual) == code)


def _encoding_right(truth: Truth) -> bool:
    """Say whether the headings and a cell beyond ASCII are read as they are written."""
    tables = read_tables(open_export(truth.export), Hints(records=truth.ideal.get("records")))
    read = [name for table in tables for name in table.cells.columns]
    wanted = [heading for key, heading in truth.columns.items() if key in MARKS and heading in _stated(truth)]
    texts = "\n".join(str(cell) for table in tables for row in table.cells.rows() for cell in row)
    return all(_names(truth, read, heading) for heading in wanted) and str(truth.said["written_so"]) in texts


def _stated(truth: Truth) -> list[str]:
    return [str(heading) for heading in truth.said["headings"]]


def edits_of(truth: Truth, proposed: Mapping[str, Any]) -> list[str]:
    """Return the keys in which a proposed map differs from the ideal one, apart from its file pattern.

    A question that the proposal leaves open differs too: the owner has to write the key. The day of sale may be
    proposed as the day on which the offer ended, and the other way round.
    """
    ideal = truth.ideal
    proposed = _with_days_as(ideal, proposed)
    pairs = [
        (key, proposed.get(key, DEFAULTS.get(key)), ideal.get(key, DEFAULTS.get(key))) for key in SETTINGS
    ]
    pairs += [(key, proposed[key], ideal.get(key, proposed[key])) for key in FOUND_ANYWAY if key in proposed]
    for field in sorted({*ideal["columns"], *proposed.get("columns", {})}):
        here, there = _headings(ideal, field), _headings(proposed, field)
        if not (len(here) == len(there) and all(_names(truth, there, heading) for heading in here)):
            pairs.append((f"columns.{field}", there, here))
    found, wanted = (
        {word.casefold(): meaning for word, meaning in one.get("status_words", {}).items()}
        for one in (proposed, ideal)
    )
    pairs += [
        (f"status_words.{word}", found.get(word), wanted.get(word)) for word in sorted({*found, *wanted})
    ]
    return [f"{key}: {found!r}, and not {wanted!r}" for key, found, wanted in pairs if found != wanted]


def _with_days_as(ideal: Mapping[str, Any], proposed: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return the proposed map with its one day of the end named as the ideal map names it."""
    columns, days = dict(proposed.get("columns", {})), ("sold_on", "closed_on")
    [named], found = [day for day in days if day in ideal["columns"]], [day for day in days if day in columns]
    if len(found) == 1:
        columns[named] = columns.pop(found[0])
    return {**proposed, "columns": columns}


def _read(truth: Truth) -> Found:
    """Return what comes of an export by its ideal map."""
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
    read = [
        name
        for table in read_tables(open_export(truth.export), Hints(records=truth.ideal.get("records")))
        for name in table.cells.columns
    ]

    def named(heading: str) -> str:
        return (
            heading
            if heading in read
            else next((name for name in read if _names(truth, [name], heading)), heading)
        )

    return {
        field: named(one) if isinstance(one, str) else [*map(named, one)] for field, one in columns.items()
    }


def _compare(truth: Truth, ledger: Ledger) -> Found:
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
    undone = {row for (row,) in ledger.connection.execute("SELECT row_number FROM reversals").fetchall()}
    right = pairs = 0
    for wanted in truth.rows:
        if wanted["status"] == "withdrawn" and truth.place_of(wanted) in undone:
            right += 1
        elif (found := _find(truth, wanted, staged)) is not None:
            right += _row_right(wanted, found)
            pairs += all(found[name] == wanted[name] for name in ("silhouette", "era"))
    sold = [each for each in staged if each["status"] == "sold"]
    odd = [_find(truth, wanted, sold) for wanted in truth.no_pairs]
    at = [truth.place_of(wanted) for wanted in truth.no_pairs]
    among = sum(
        found is not None and (truth.nested or found["row_number"] == place)
        for found, place in zip(odd, at, strict=True)
    )
    return Found(right, pairs, len(sold), among)


def _find(
    truth: Truth, wanted: Mapping[str, Any], staged: Iterable[Mapping[str, Any]]
) -> Mapping[str, Any] | None:
    """Return the staged row with the title of a row of the truth, the nearest to its place."""
    same = [each for each in staged if _starts(each["title"], wanted["title"])]
    return min(same, key=lambda each: abs(each["row_number"] - truth.place_of(wanted)), default=None)


def _starts(text: str | None, title: str) -> bool:
    return " ".join((text or "").split()).startswith(" ".join(title.split()))


def _row_right(wanted: Mapping[str, Any], found: Mapping[str, Any]) -> bool:
    """Say whether a row is read as a trade reader would: of an offer that was no sale only how it ended."""
    if wanted["status"] != "sold":
        return bool(found["status"] == wanted["status"]) and found["sold_on"] is None
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
        asked = [each.marks[mark] for each in scores]
        lines.append(f"{mark:10} {sum(asked):4} of {len(asked)}")
    rows, edits = sum(each.rows for each in scores), sum(each.edits for each in scores)
    return [
        *lines,
        f"false asks {sum(each.false_ask for each in scores):4}",
        f"edits      {edits:4}, {edits / len(scores):.1f} a file",
        f"rows right by the ideal map  {sum(each.rows_right for each in scores)} of {rows}",
        f"silhouette and era right     {sum(each.pairs_right for each in scores)} of {rows}",
        f"sales of one pair            {sum(each.sales for each in scores)}, "
        f"read as sales {sum(each.sales_read for each in scores)}",
        f"rows that are no pair         {sum(each.odd for each in scores)}, "
        f"read as sales {sum(each.odd_read for each in scores)}",
    ]


def line_of(one: Score) -> str:
    """Return the line of one file: a letter for each right mark, a point for a wrong one, then the counts."""
    signs = "".join(f"{'x' if one.marks[mark] else '.':>{len(mark) + 1}}" for mark in MARKS)
    read = f"{one.rows_right:5}/{one.rows} {one.pairs_right:5}/{one.rows} {one.sales_read:5}/{one.sales}"
    counts = f"{one.edits:6} {read}"
    return f"{one.name[:36]:36}{signs}{counts}" + (f"\n    {one.fault[:160]}" if one.fault else "")


def main() -> None:
    """Score a part, or all; with words of file names say where the proposals of an open part differ."""
    half, *words = sys.argv[1:] or [""]
    if words:
        for truth in truths_of(half if half in OPEN else OPEN[0]):
            if any(word in truth.export.name for word in words):
                say("\n  ".join([truth.export.name, *edits_of(truth, _proposed(truth))]))
        return
    for each in HALVES if not half else [half]:
        scores = [score(truth) for truth in truths_of(each)]
        say(f"{each:36} {' '.join(MARKS)} edits rows right pairs right sales read")
        for line in [*map(line_of, scores), *totals(scores), ""]:
            say(line)


if __name__ == "__main__":
    main()
