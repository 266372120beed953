"""Makes the invented exports and what is right about them: `python -m tests.new_exports.making [PART]`."""

import json
import sys
import tomllib
from collections import Counter
from decimal import Decimal
from pathlib import Path

from tests.new_exports.drawing import HERE, Export, Offer, draw_offers
from tests.new_exports.writing import Lines, lines_of, write_export

SAMPLED = 10


def make(export: Export, folder: Path) -> None:
    """Write an export and its truth file into a folder."""
    lines = lines_of(export, draw_offers(export))
    write_export(export, lines, folder / export.file)
    (folder / f"{Path(export.file).stem}.truth.toml").write_text(truth_of(export, lines), "utf-8")


def truth_of(export: Export, lines: Lines) -> str:
    """Return the truth file: the export, the ideal map, what the columns are, sample rows and counts."""
    rows = [(at, offer) for at, (_, offer) in enumerate(lines, start=1) if offer is not None]
    pairs = [(at, offer) for at, offer in rows if offer.kind == "pair"]
    sold = [row for row in pairs if row[1].sold]
    others = [row for row in pairs if not row[1].sold]
    sample = sorted(_pick(sold, others), key=lambda row: row[0])
    parts = [
        f'file = "{export.file}"',
        f'dealer = "{export.dealer}"',
        f'language = "{export.language}"',
        f'format = "{export.layout.kind}"',
        f"delimiter = {_quoted(export.layout.delimiter)}",
        f'encoding = "{export.layout.encoding}"',
        f"first_row = {_first_row(export)}",
        f"headings = [{', '.join(map(_quoted, export.columns))}]",
        f"written_so = {_quoted(_beyond_ascii(lines))}",
        "",
        "[columns]",
        export.truth.strip(),
        "",
        "[counts]",
        f"sales_of_one_pair = {len(sold)}",
    ]
    why = Counter(_why(offer) for _, offer in rows if not (offer.kind == "pair" and offer.sold))
    if headings := sum(offer is None for _, offer in lines):
        why["line of totals" if export.layout.total_by else "group heading"] = headings
    if totals := sum(any(row) for row in export.layout.below):
        why["line of totals"] = totals
    parts += [
        "",
        "[counts.no_sale_of_one_pair]",
        *(f'"{reason}" = {count}' for reason, count in sorted(why.items())),
    ]
    parts += ["", "# The ideal map, in the market file's syntax.", export.ideal.strip(), ""]
    for at, offer in sample:
        parts += ["[[rows]]", *_row(export, at, offer), ""]
    for at, offer in rows:
        if offer.kind != "pair":
            title = f"title = {_quoted(_title(export, offer))}"
            parts += ["[[no_pair]]", f"row = {at}", f'why = "{offer.kind}"', title, ""]
    return "\n".join(parts).rstrip() + "\n"


def _pick(sold: list[tuple[int, Offer]], others: list[tuple[int, Offer]]) -> list[tuple[int, Offer]]:
    """Return ten rows: up to three that are no sale, of different words, and sales spread over the file."""
    by_word = {offer.word: (at, offer) for at, offer in reversed(others)}
    chosen = list(by_word.values())[:3]
    wanted = SAMPLED - len(chosen)
    return [*chosen, *(sold[at * len(sold) // wanted] for at in range(wanted))]


def _title(export: Export, offer: Offer) -> str:
    """Return what the column of titles says, the first where the ideal map reads several."""
    [ideal] = tomllib.loads(export.ideal)["maps"].values()
    heading = ideal["columns"]["title"]
    return str(export.columns[heading if isinstance(heading, str) else heading[0]](offer))


def _first_row(export: Export) -> int:
    """Return the row of the file in which the first record stands; records of JSON and Parquet count from 1."""
    return 1 if export.layout.kind in {"json", "jsonl", "parquet"} else len(export.layout.above) + 2


def _beyond_ascii(lines: Lines) -> str:
    """Return the first cell that a wrong encoding would spoil, or an empty text."""
    cells = (cell for row, _ in lines for cell in row if isinstance(cell, str))
    return next((cell for cell in cells if not cell.isascii()), "")


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _why(offer: Offer) -> str:
    return offer.kind if offer.kind != "pair" else f"{offer.outcome}: {offer.word}"


def _row(export: Export, at: int, offer: Offer) -> list[str]:
    price = f"{Decimal(export.price(offer)):f}" if offer.sold else ""
    found = {
        "price_native": price,
        "sold_on": export.day(offer).isoformat() if offer.sold else "",
        "size_label": export.size(offer) if export.size else "",
        "status": offer.outcome,
        "currency": export.currency if isinstance(export.currency, str) else export.currency(offer),
        "silhouette": offer.silhouette,
        "era": offer.era_name,
        "title": _title(export, offer),
    }
    grade = [f"grade = {offer.grade:g}"] if export.graded else []
    return [f"row = {at}", *(f"{name} = {_quoted(value)}" for name, value in found.items()), *grade]


def main() -> None:
    """Make the parts that are named, or all."""
    from tests.new_exports.eighth_exports import EIGHTH
    from tests.new_exports.fifth_exports import FIFTH
    from tests.new_exports.first_exports import FIRST
    from tests.new_exports.fourth_exports import FOURTH
    from tests.new_exports.second_exports import SECOND
    from tests.new_exports.seventh_exports import SEVENTH
    from tests.new_exports.sixth_exports import SIXTH
    from tests.new_exports.third_exports import THIRD

    parts = {
        "first": FIRST,
        "second": SECOND,
        "third": THIRD,
        "fourth": FOURTH,
        "fifth": FIFTH,
        "sixth": SIXTH,
        "seventh": SEVENTH,
        "eighth": EIGHTH,
    }
    for half, exports in parts.items():
        if half in (sys.argv[1:] or parts):
            for export in exports:
                make(export, HERE / half)


if __name__ == "__main__":
    main()
