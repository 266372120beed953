"""Kill -9 at random moments of ingest and fit, cut what the engine keeps beside the ledger, and two at once.

Run: `python -m tests.bench.bench_faults [MOMENTS]`. It prints how many moments were tried, what the ledgers held
afterwards, and how many were lost; it ends with 1 where one was.
"""

import random
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from pipeline.errors import LedgerError
from pipeline.ledger.files import wal_of
from tests.faults import WORKS, Contents, Folder, Worker, contents, copied, do, make_folder, states

MOMENTS = 200
CUTS = 60
PAIRS = 10
SALES = 40
STATEMENTS = {"ingest": 66, "fit": 23}
"""How many statements the ledger is given in each work, or one more."""


def strike(work: str, ready: Folder, place: Path, moment: float | int) -> Folder:
    """Return a folder in which the work was killed: so many seconds after it had begun, or at that statement."""
    struck = copied(ready, place)
    if isinstance(moment, int):
        worker = Worker(work, struck, step=moment)
        worker.begin()
    else:
        worker = Worker(work, struck)
        worker.begin()
        time.sleep(moment)
        worker.process.kill()
    worker.end()
    return struck


def duration(work: str, ready: Folder, place: Path) -> float:
    """Return how many seconds the work takes in a process of its own."""
    worker = Worker(work, copied(ready, place))
    begun = time.perf_counter()
    worker.begin()
    worker.end()
    return time.perf_counter() - begun


def found(folder: Folder, may_hold: list[Contents]) -> str:
    """Say what a ledger holds: one of the states that it may be in, or that it is lost."""
    try:
        told = contents(folder)
    except (LedgerError, AssertionError) as exc:
        return f"lost: {exc}"
    if told not in may_hold:
        return "lost: neither as before nor as after"
    at = may_hold.index(told)
    return "as before" if at == 0 else "as after" if at == len(may_hold) - 1 else "after its first file"


def cut_beside(struck: Folder, place: Path, rng: random.Random) -> Folder:
    """Return a copy of a folder in which what the engine keeps beside the ledger ends too early."""
    cut = copied(struck, place)
    kept = wal_of(cut.ledger).read_bytes()
    wal_of(cut.ledger).write_bytes(kept[: rng.randrange(len(kept))])
    return cut


def _size(path: Path) -> int:
    """Return the size of a file in bytes, 0 where there is none: a kill can leave one that is empty."""
    return path.stat().st_size if path.exists() else 0


def main(moments: int) -> int:
    """Try it all; return the number of ledgers lost."""
    rng = random.Random(8)
    told: Counter[str] = Counter()
    again: Counter[str] = Counter()
    cuts: Counter[str] = Counter()
    pairs: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(prefix="pairband-faults-") as name:
        place = Path(name)
        base = make_folder(place / "base", sales=SALES)
        may_hold = {work: states(work, copied(base, place / f"{work}-done")) for work in WORKS}
        lasts = {work: duration(work, base, place / f"{work}-timed") for work in WORKS}
        for number in range(moments):
            work = WORKS[number % len(WORKS)]
            by_time = number % 4 < 2  # on a busy machine the seconds fall short, the statements never do
            moment = rng.uniform(0, 1.5 * lasts[work]) if by_time else rng.randrange(STATEMENTS[work])
            struck = strike(work, base, place / f"struck-{number}", moment)
            if _size(wal_of(struck.ledger)) and cuts.total() < CUTS:
                cut = cut_beside(struck, place / f"cut-{number}", rng)
                cuts[found(cut, may_hold[work])] += 1
            told[f"{work}: {found(struck, may_hold[work])}"] += 1
            do(work, struck)
            if number % 20 == 19:
                print(f"{number + 1} moments: {dict(told)}", flush=True)
            again["as one clean run" if contents(struck) == may_hold[work][-1] else "lost: otherwise"] += 1
        for number in range(PAIRS):
            shared = copied(base, place / f"shared-{number}")
            both = [Worker("ingest", shared) for _ in range(2)]
            for worker in both:
                worker.begin()
            refused = [said for said in [worker.end() for worker in both] if said]
            held = len(refused) < 2 and all("held by another process" in said for said in refused)
            state = found(shared, may_hold["ingest"])
            outcome = f"{len(refused)} refused, {state}"
            pairs[outcome if held and state == "as after" else f"lost: {outcome}"] += 1
    for title, counted in (
        ("moments", told),
        ("run again", again),
        ("cut beside the ledger", cuts),
        ("two at once", pairs),
    ):
        print(f"{title}: {counted.total()}")
        for what, times in sorted(counted.items()):
            print(f"  {times:4d}  {what}")
    lost = sum(
        times for counted in (told, again, cuts, pairs) for what, times in counted.items() if "lost" in what
    )
    print(f"ledgers lost: {lost}")
    return lost


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]) if len(sys.argv) > 1 else MOMENTS) else 0)
