"""Compare what every command answers in JSON on the demo, between another checkout and this one.

Run: `python -m tests.bench.compare_answers OTHER_CHECKOUT`. It prints, for each command, every path of the document
that only one side has, and every value that differs by more than 1e-9, numbered lists folded into `[]`.
"""

import json
import math
import os
import re
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

HERE = Path(__file__).parents[2]
ON = ("--on", "2026-10-01")
PAIR = ("--silhouette", "Gannet Hi", "--colourway", "Buoy Red", "--size", "UK 9", "--grade", "8")
RARE = ("--silhouette", "Razorbill", "--era", "second", "--size", "EU 44", "--grade", "6.5", "--box", "none")
COMMANDS: dict[str, tuple[str, ...]] = {
    "fit": ("fit",),
    "review": ("review",),
    "appraise": ("appraise", *PAIR, "--era", "first", *ON),
    "appraise, rare": ("appraise", *RARE, *ON),
    "appraise --file": ("appraise", "--file", "exports/stock.csv", *ON),
    "appraise --era-odds": ("appraise", *PAIR, "--era-odds", "sales", *ON),
    "consign": ("consign", *PAIR, "--era", "first", *ON),
    "lots": ("lots", "exports/upcoming_lots.csv", *ON),
    "lots --backtest": ("lots", "--backtest", *ON),
    "stock": ("stock", "exports/stock.csv", *ON),
    "restore": ("restore", "exports/stock.csv", "--hours", "20", *ON),
    "market": ("market", *ON),
    "audit": ("audit", *ON),
    "words": ("words",),
    "columns": ("columns",),
}


def answers(checkout: Path, place: Path) -> dict[str, Any]:
    """Return what the commands of a checkout answer on its own demo, made in a folder."""
    run(checkout, place.parent, "demo", str(place))
    return {name: json.loads(run(checkout, place, *words, "--json")) for name, words in COMMANDS.items()}


def run(checkout: Path, folder: Path, *words: str) -> str:
    """Return what `pairband` of a checkout prints in a folder."""
    done = subprocess.run(
        [sys.executable, "-c", "from pipeline.cli import main; main()", *words],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(checkout)},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode not in (0, 3):
        raise SystemExit(f"{checkout}: {' '.join(words)}: {done.stderr}")
    return done.stdout


def differences(before: Any, after: Any, path: str = "") -> Iterator[str]:
    """Yield the paths at which two documents differ, each with how."""
    match before, after:
        case dict(), dict():
            for key in before.keys() | after.keys():
                if key not in after:
                    yield f"{path}.{key}: gone"
                elif key not in before:
                    yield f"{path}.{key}: new"
                else:
                    yield from differences(before[key], after[key], f"{path}.{key}")
        case list(), list():
            if len(before) != len(after):
                yield f"{path}: {len(before)} entries, now {len(after)}"
            for old, new in zip(before, after, strict=False):
                yield from differences(old, new, f"{path}[]")
        case (int() | float(), int() | float()):
            if not math.isclose(before, after, rel_tol=1e-9, abs_tol=1e-9):
                size = abs(after - before) / max(abs(before), 1e-9)
                yield f"{path}: number moved by {10 ** math.ceil(math.log10(size)):.0e} or less"
        case _:
            if before != after:
                yield f"{path}: {'words' if isinstance(before, str) else 'value'} changed"


def main(other: Path) -> None:
    """Print the differences, counted."""
    with tempfile.TemporaryDirectory(prefix="pairband-compare-") as name:
        before = answers(other, Path(name) / "before")
        after = answers(HERE, Path(name) / "after")
    for command in COMMANDS:
        found = Counter(re.sub(r"\[\d+\]", "[]", one) for one in differences(before[command], after[command]))
        print(f"{command}: {'the same' if not found else ''}")
        for what, times in sorted(found.items()):
            print(f"  {times:5d}  {what}")


if __name__ == "__main__":
    main(Path(sys.argv[1]).resolve())
