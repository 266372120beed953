"""Call every command as its worst user would, and count tracebacks, files overwritten and ledgers lost.

Run: `python -m tests.bench.bench_hostile [EVERY]` (1: all; 10: every tenth). Each case is a process of its own in
a copy of one folder: outputs aimed at the owner's files, streams closed or full, pipes, devices and folders in place
of files, names that are odd or no UTF-8, options beyond all bounds, exports that hold brackets, escape sequences and
huge amounts, stored fits that are damaged. It ends with 1 where a case failed.
"""

import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import click
import duckdb

from pipeline.cli import COMMANDS, app
from pipeline.errors import PairbandError
from pipeline.options import OUTPUT
from tests.exports import LANTERN_HEADER, write_lantern
from tests.faults import Folder, contents, do, make_folder
from tests.processes import uncounted

ROOT = Path(__file__).parents[2]
SALES = 60
SECONDS = 60
"""After so long a case counts as hanging."""

COMMAND = (sys.executable, "-c", "from pipeline.cli import main; main()")
PAIR = ("--silhouette", "Gannet Hi", "--size", "UK 9", "--grade", "8")
PLAIN: dict[str, tuple[str, ...]] = {
    "appraise": PAIR,
    "consign": PAIR,
    "lots": ("--backtest",),
    "restore": (),
    "market": (),
    "audit": (),
    "words": (),
    "pricing": (),
    "report": ("pages",),
    "review": (),
    "quarantine": (),
    "phrases": ("fr",),
    "columns": (),
    "check": (),
    "doctor": (),
    "fit": (),
    "backup": (),
}
"""Commands that work in the folder as they stand."""

KEPT = ("market.toml", "pairband.duckdb", "pairband.duckdb.wal", "pairband.copies.jsonl")
OWN = ("own.html", "lantern_2022.csv")
"""Files of the owner's that only --force may replace."""

SPECIAL = ("pipe", "/dev/zero", "/dev/full", "folder", "empty", "noise", "link-to-itself", "missing")
ODD = (
    "a\x1b[31m\x07.csv",
    "é\u202e海.csv",
    "'; DROP TABLE sales; --.csv",
    "-x.csv",
    "a" * 250 + ".csv",
    "a" * 300,
)
HUGE = ("1e999999", "-1", "nan", "99999999999999999999", "0001-01-01", "9999-12-31", "\x1b[2J", "", "\ud800")
CELLS = (
    *(
        "[see photo]",
        '[{"name":"booklet"}]',
        "[[[[",
        '{"a":',
        "99999999999999",
        "1e-12",
        "\x1b]0;x\x07",
        "=1+1",
    ),
    *(
        "－1",
        "\u202e",
        "𝟗" * 50,
        "9" * 400,
        "NaN",
        "inf",
        "0x10",
        "1.23456789",
        "[null]",
        "null",
        "true",
        '"',
    ),
)
STREAMS = ("<&-", ">&-", "2>&-", "<&- >&- 2>&-", ">/dev/full", "2>/dev/full", "| true", "| head -c 1")


@dataclass(frozen=True)
class Case:
    """One call: what it tries, its arguments, how the shell bends its streams, what is done to the folder first."""

    kind: str
    arguments: tuple[str | bytes, ...]
    end: str = ""
    environment: tuple[tuple[str, str], ...] = ()
    spoil: str = ""


def cases() -> Iterator[Case]:
    """Yield every case."""
    yield from _outputs()
    yield from _streams()
    yield from _inputs()
    yield from _options()
    for cell in CELLS:
        yield Case("a hostile cell", ("ingest", "hostile.csv"), spoil=f"cell:{cell}")
    for number in range(60):
        for command in ("appraise", "doctor", "lots"):
            yield Case("a damaged fit", (command, *PLAIN[command]), spoil=f"fit:{number}")


def _outputs() -> Iterator[Case]:
    for name in COMMANDS:
        command = app.get_command(click.Context(app), name)
        for option in [parameter.opts[0] for parameter in command.params if parameter.type is OUTPUT]:  # type: ignore[union-attr]
            leads = ("--figure", "band") if option == "--to" else ()
            for kept in (*KEPT, "link.html", *OWN):
                forces: tuple[tuple[str, ...], ...] = ((),) if kept in OWN else ((), ("--force",))
                for force in forces:
                    yield Case(
                        "an output onto a file", (name, *PLAIN.get(name, ()), *leads, option, kept, *force)
                    )
    yield Case("an output onto a file", ("report", "."))
    yield Case("an output onto a file", ("demo", "."))
    yield Case("an output onto a file", ("init",))


def _streams() -> Iterator[Case]:
    for name, arguments in PLAIN.items():
        for end in STREAMS:
            yield Case("a bent stream", (name, *arguments), end=end)
        for encoding in ("ascii", "latin-1", "utf-16"):
            yield Case("another encoding", (name, *arguments), environment=(("PYTHONIOENCODING", encoding),))


def _inputs() -> Iterator[Case]:
    for special in SPECIAL:
        for option in ("--market", "--ledger"):
            for name in ("appraise", "fit", "doctor", "check", "ingest", "backup"):
                if option == "--market" or name != "check":
                    arguments = ("lantern_2023.csv",) if name == "ingest" else PLAIN[name]
                    yield Case("not a plain file", (name, *arguments, option, special))
        yield Case("not a plain file", ("recover", special))
        yield Case("not a plain file", ("ingest", special))
        yield Case("not a plain file", ("map", special))
        yield Case("not a plain file", ("doctor",), spoil=f"copies:{special}")
        yield Case("not a plain file", ("lots", special))
        yield Case("not a plain file", ("restore", special))
    for odd in (*ODD, b"\xff\xfe.csv"):
        for name in ("ingest", "map", "restore", "lots", "recover"):
            yield Case("an odd name", (name, odd))
        for name in ("appraise", "fit", "backup"):
            for option in ("--ledger", "--market"):
                yield Case("an odd name", (name, *PLAIN[name], option, odd))
        yield Case("an odd name", ("appraise", *PAIR, "--page", odd))


def _options() -> Iterator[Case]:
    for name, arguments in PLAIN.items():
        command = app.get_command(click.Context(app), name)
        for parameter in command.params:  # type: ignore[union-attr]
            if isinstance(parameter, click.Option) and not parameter.is_flag:
                for value in HUGE:
                    shown = value.encode("utf-8", "surrogatepass")
                    yield Case("an extreme option", (name, *arguments, parameter.opts[0], shown))


_GOOD = {
    "item": "L1",
    "title": "Gannet Hi Buoy Red first run",
    "listed": "2024-01-01",
    "ended": "2024-02-01",
    "sold_for": "100.00",
    "asked": "120.00",
    "state": "sold",
    "size": "UK 8",
    "grade": "7",
    "box": "original",
}


def _row(**cells: str) -> str:
    good = _GOOD | cells
    return ",".join(good.get(name, "") for name in LANTERN_HEADER.split(","))


def _spoil(folder: Path, how: str) -> None:
    """Do to a folder what a case wants done first."""
    what, _, value = how.partition(":")
    if what == "cell":
        quoted = '"' + value.replace('"', '""') + '"'
        write_lantern(folder, *(_row(**{name: quoted}) for name in _GOOD), name="hostile.csv")
    elif what == "copies":
        (folder / "pairband.copies.jsonl").unlink(missing_ok=True)
        (folder / "pairband.copies.jsonl").symlink_to(value)
    elif what == "fit":
        _damage_fit(folder / "pairband.duckdb", random.Random(int(value)))


def _damage_fit(ledger: Path, rng: random.Random) -> None:
    """Change some bytes of the latest stored fit, cut it, or put something else in its place."""
    with duckdb.connect(str(ledger)) as connection:
        [(document, arrays)] = connection.execute(
            "SELECT document, arrays FROM fits ORDER BY fit_number DESC LIMIT 1"
        ).fetchall()
        text, packed = bytearray(document.encode()), bytearray(arrays)
        match rng.randrange(5):
            case 0:
                text = text[: rng.randrange(len(text))]
            case 1:
                packed = packed[: rng.randrange(len(packed))]
            case 2:
                for _ in range(20):
                    packed[rng.randrange(len(packed))] = rng.randrange(256)
            case 3:
                at = rng.randrange(len(text))
                text[at : at + 8] = rng.choice([b"null", b'"x"', b"-1", b"1e999", b"[]", b"{}"])
            case 4:
                text = bytearray(rng.choice([b"", b"[]", b"{}", b"null", b"1", b"[" * 5_000]))
        connection.execute(
            "UPDATE fits SET document = ?, arrays = ? WHERE fit_number = (SELECT max(fit_number) FROM fits)",
            [text.decode("utf-8", "replace"), bytes(packed)],
        )


def _prepare(place: Path) -> Folder:
    """Return the folder from which every case starts."""
    folder = make_folder(place / "base", sales=SALES)
    do("fit", folder)
    path = folder.path
    (path / "own.html").write_text("the owner's own", encoding="utf-8")
    (path / "index.html").write_text("the owner's own", encoding="utf-8")
    (path / "link.html").symlink_to("market.toml")
    (path / "link-to-itself").symlink_to("link-to-itself")
    (path / "folder").mkdir()
    (path / "empty").touch()
    (path / "noise").write_bytes(random.Random(1).randbytes(3_000))
    (path / "pairband.copies.jsonl").write_text("no JSON\n[1]\n{}\n", encoding="utf-8")
    return folder


def _files(folder: Path) -> dict[str, bytes]:
    return {
        path.name: path.read_bytes()
        for path in folder.iterdir()
        if path.is_file()
        and not path.is_symlink()
        and path.name not in ("pairband.duckdb", "pairband.copies.jsonl")
    }


def try_case(number: int, case: Case, base: Folder) -> str:
    """Run one case in a folder of its own; return how it failed, or nothing."""
    path = base.path.parent / f"case-{number}"
    shutil.copytree(base.path, path, symlinks=True)
    os.mkfifo(path / "pipe")
    folder = Folder(path)
    try:
        _spoil(path, case.spoil)
        before = _files(path)
        held = contents(folder) if not case.spoil.startswith("fit") else None
        try:
            done = subprocess.run(
                ["bash", "-c", f'"$@" {case.end}', "bash", *COMMAND, *case.arguments],
                cwd=path,
                env=uncounted()
                | {"PYTHONPATH": str(ROOT), "XDG_STATE_HOME": str(path / "state")}
                | dict(case.environment),
                stdin=None if case.end.startswith("<&-") else subprocess.DEVNULL,
                capture_output=True,
                timeout=SECONDS,
                check=False,
            )
        except subprocess.TimeoutExpired:
            return "hangs"
        if b"Traceback" in done.stdout + done.stderr:
            return f"traceback: {done.stderr.decode('utf-8', 'replace').strip().splitlines()[-1]}"
        if b"an unexpected error" in done.stderr:
            return f"unexpected error: {done.stderr.decode('utf-8', 'replace').splitlines()[0]}"
        if done.returncode not in (0, 1, 2, 3):
            return f"exit code {done.returncode}"
        if b"\x1b" in done.stdout + done.stderr:
            return "an escape sequence was printed"
        after = _files(path)
        changed = [name for name, content in before.items() if after.get(name) != content]
        if changed:
            return f"overwritten: {', '.join(changed)}"
        if held is not None and case.arguments[0] not in ("ingest", "fit"):
            try:
                if contents(folder) != held:
                    return "ledger lost: it holds something else"
            except (PairbandError, AssertionError) as exc:
                return f"ledger lost: {exc}"
        return ""
    finally:
        shutil.rmtree(path)


def main(every: int) -> int:
    """Try every so-many-th case; return how many failed."""
    failed: Counter[str] = Counter()
    tried: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(prefix="pairband-hostile-") as name, ThreadPoolExecutor(2) as pool:
        base = _prepare(Path(name))
        listed = list(cases())[::every]
        for case, how in zip(
            listed,
            pool.map(lambda numbered: try_case(numbered[0], numbered[1], base), enumerate(listed)),
            strict=True,
        ):
            tried[case.kind] += 1
            if how:
                failed[how.split(":")[0]] += 1
                print(f"! {case.kind}: {case.arguments!r} {case.end} {case.spoil}: {how}"[:400], flush=True)
    for kind, times in tried.items():
        print(f"{times:5d}  {kind}")
    named = ("traceback", "unexpected error", "hangs", "overwritten", "ledger lost")
    print(f"cases: {tried.total()}; " + "; ".join(f"{name} {failed[name]}" for name in named))
    print(f"failed: {failed.total()}")
    return failed.total()


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]) if len(sys.argv) > 1 else 1) else 0)
