"""A million and more cases given to every parser and reader: no crash, no hang, no memory beyond the bound.

Run: `python -m tests.bench.bench_fuzz [CASES]`. A case is a string given to a parser or a file given to the
readers. It prints the cases, the worst time of a column of strings and of a file, and the peak of memory.
"""

import random
import resource
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.corpus.cases import CASES
from tests.fuzz import PARSERS, hostile_content, hostile_text, parse, read

TEXT_CASES = 1_200_000
COLUMN = 1_000
WHOLE = 20
"""Of so many files one is also mapped and normalised, which takes longer than the reading."""

TEXTS_A_FILE = 100
"""There is one file for so many texts."""


def main(cases: int) -> int:
    """Try so many texts, and a file for each hundred of them; return the number of failures."""
    started = time.perf_counter()
    failures = fuzz_parsers(cases) + fuzz_readers(cases // TEXTS_A_FILE)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"failures: {failures}; peak memory {peak:,.0f} MiB; {time.perf_counter() - started:,.0f} s in all")
    return failures


def fuzz_parsers(cases: int) -> int:
    """Give every parser its share of so many texts, a column at a time."""
    failures = 0
    share = cases // len(PARSERS)
    for parser in PARSERS:
        rng = random.Random(parser)
        worst, whole, tried = 0.0, 0.0, 0
        while tried < share:
            texts = [hostile_text(rng) for _ in range(COLUMN)]
            begun = time.perf_counter()
            try:
                parse(parser, texts)
            except BaseException as exc:
                if isinstance(exc, KeyboardInterrupt):
                    raise
                failures += 1
                print(f"! {parser}: {smallest(parser, texts)!r}: {type(exc).__name__}: {exc}"[:600])
            took = time.perf_counter() - begun
            worst, whole, tried = max(worst, took), whole + took, tried + len(texts)
        print(
            f"{parser}: {tried:,} texts, {1e6 * whole / tried:.0f} µs each, worst column {worst:.2f} s",
            flush=True,
        )
    return failures


def smallest(parser: str, texts: list[str]) -> list[str]:
    """Return the first text that fails alone, or else all (at most three)."""
    for text in texts:
        try:
            parse(parser, [text])
        except BaseException:  # noqa: BLE001
            return [text]
    return texts[:3]


def fuzz_readers(cases: int) -> int:
    """Give the readers so many files, each made from one of the corpus."""
    rng = random.Random("files")
    told: Counter[str] = Counter()
    failures, worst, slowest = 0, 0.0, ""
    with tempfile.TemporaryDirectory(prefix="pairband-fuzz-") as folder:
        for number in range(cases):
            case = rng.choice(CASES)
            path = Path(folder) / case.file
            path.write_bytes(hostile_content(rng, case.content))
            begun = time.perf_counter()
            try:
                told[read(path, case, whole=number % WHOLE == 0)] += 1
            except BaseException as exc:
                if isinstance(exc, KeyboardInterrupt):
                    raise
                failures += 1
                kept = Path(tempfile.gettempdir()) / f"pairband-fuzz-{number}-{case.file}"
                kept.write_bytes(path.read_bytes())
                print(f"! {kept}: {type(exc).__name__}: {exc}"[:600], flush=True)
            took = time.perf_counter() - begun
            if took > worst:
                worst, slowest = took, case.file
            path.unlink()
    print(
        f"files: {cases:,}, worst {worst:.2f} s ({slowest}); "
        + ", ".join(f"{n:,} {what}" for what, n in told.most_common())
    )
    return failures


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]) if len(sys.argv) > 1 else TEXT_CASES) else 0)
