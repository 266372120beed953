"""Small faults put into money, sizes and the hedonic core, one at a time: does a test notice each?

Run: `python -m tests.bench.bench_mutation [money|sizes|hedonic]...` (all three unless told), with mutmut
installed. It works in a clone of the committed state, in a temporary folder. For each scope it prints how
many faults there were, how many the scope's tests noticed, and which they did not; one that EXPLAINED gives a
reason for is counted apart. It ends with 1 where one is left, with 2 where it cannot be run. Two busy cores
try about one fault a second: ten minutes for sizes, half an hour for the hedonic core,
most of an hour for money.

A module's constants and its functions under a decorator (but for static and class methods) get no faults:
mutmut leaves them alone.
"""

import ast
import importlib.util
import os
import re
import subprocess
import sys
import sysconfig
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
MUTMUT = Path(sysconfig.get_path("scripts")) / "mutmut"
WORKERS = 2
NOTICED = ("killed", "caught by type check")
PRINTED = {"timeout": "timed out", "no tests": "reached by no chosen test"}


@dataclass(frozen=True)
class Scope:
    """Modules that get faults, and the tests that should notice them."""

    modules: tuple[str, ...]
    tests: tuple[str, ...]


SCOPES = {
    "money": Scope(
        ("pipeline/fees/*.py", "pipeline/ingest/rates.py", "pipeline/ingest/money.py"),
        (
            "tests/unit/test_bids.py",
            "tests/unit/test_fee_columns.py",
            "tests/unit/test_fees.py",
            "tests/unit/test_money.py",
            "tests/unit/test_rates.py",
            "tests/oracle/test_ecb_rates.py",
            "tests/oracle/test_lot_bids_by_hand.py",
            "tests/property/test_fees.py",
            "tests/property/test_bids.py",
        ),
    ),
    "sizes": Scope(
        ("pipeline/ingest/sizes.py",),
        ("tests/unit/test_sizes.py", "tests/oracle/test_size_formulas.py"),
    ),
    "hedonic": Scope(
        (
            "pipeline/hedonic/percent.py",
            "pipeline/hedonic/distributions.py",
            "pipeline/hedonic/bands.py",
            "pipeline/hedonic/scores.py",
            "pipeline/hedonic/penalties.py",
            "pipeline/hedonic/robust.py",
            "pipeline/hedonic/rows.py",
            "pipeline/hedonic/predict.py",
            "pipeline/hedonic/conformal.py",
        ),
        (
            "tests/unit/test_calibration.py",
            "tests/unit/test_hedonic_bands.py",
            "tests/unit/test_hedonic_prediction.py",
            "tests/unit/test_hedonic_robust.py",
            "tests/oracle/test_bands_conformal.py",
            "tests/oracle/test_distributions.py",
            "tests/oracle/test_hedonic_penalised_reference.py",
            "tests/oracle/test_hedonic_percent.py",
            "tests/oracle/test_penalties_by_hand.py",
            "tests/oracle/test_robust_by_hand.py",
            "tests/oracle/test_rows_by_hand.py",
            "tests/oracle/test_scores_by_hand.py",
            "tests/property/test_scores.py",
        ),
    ),
}

SETTINGS = """
[tool.mutmut]
source_paths = ["pipeline"]
only_mutate = {modules}
also_copy = ["sql", "sample_data", "reports", "README.md", "DEVELOPERS.md"]
pytest_add_cli_args = ["-x", "-q", "-p", "no:cacheprovider"]
pytest_add_cli_args_test_selection = {tests}
process_isolation = "forkserver"
timeout_multiplier = 5.0
timeout_constant = 2.0
"""
"""The fork server has run no query when it forks: a child of a process that has would wait for ever on
the threads of polars, and count as timed out."""

FEW_EXAMPLES = '''"""Few examples of a property, none of them made smaller, and the properties after all else."""

import pytest
from hypothesis import Phase, settings

settings.register_profile(
    "few", derandomize=True, deadline=None, max_examples=25, phases=[Phase.explicit, Phase.generate]
)
settings.load_profile("few")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: "property" in item.nodeid)
'''


MARK = re.compile(r"# mutation: equivalent, (?P<reason>\S.*)")
"""How code says that no test can notice a fault in it, and why: at the end of its line, on the line above, or
above a function, for all of it."""

ASIDES = {
    "strict": "the lists of a zip are made one from the other and are equally long",
    "maintain_order": "polars keeps the order of the left rows by itself; it only does not promise it",
    "check_sortedness": "the rows have just been sorted",
    "strategy": "a join to the last known day looks backward by itself",
    "dtype": "the type is the one that the library takes by itself",
    "return_dtype": "the type is the one that the library takes by itself",
}
"""Arguments that state what holds anyway, each with why no test can notice another value, or none."""

_ASIDE = re.compile(rf",?\s*\b(?:{'|'.join(ASIDES)})=(?:[\w.]+(?:\(\))?|\"[^\"]*\")")


@dataclass(frozen=True)
class Fault:
    """One change to one function (below `pipeline`): the lines that it takes away, and those that it brings."""

    name: str
    function: str
    status: str
    taken: tuple[str, ...] = ()
    brought: tuple[str, ...] = ()


def main(names: Sequence[str]) -> int:
    """Put every fault into the scopes named; return 1 where one is neither noticed nor explained."""
    if importlib.util.find_spec("mutmut") is None:
        print("mutmut is missing: pip install mutmut", file=sys.stderr)
        return 2
    if unknown := [name for name in names if name not in SCOPES]:
        print(f"no scope is called {unknown[0]!r}: {', '.join(SCOPES)}", file=sys.stderr)
        return 2
    left = 0
    with tempfile.TemporaryDirectory(prefix="pairband-mutation-") as folder:
        for name in names or SCOPES:
            left += report(name, faults_of(SCOPES[name], Path(folder) / name))
    return 1 if left else 0


def report(scope: str, faults: Sequence[Fault]) -> int:
    """Print what became of the faults of a scope; return how many are neither noticed nor explained."""
    told = Counter(fault.status for fault in faults)
    noticed = sum(told.pop(status, 0) for status in NOTICED)
    survived = [fault for fault in faults if fault.status == "survived"]
    left = [fault for fault in survived if not is_explained(fault, ROOT)]
    print(f"{scope}: {len(faults)} faults, {noticed} noticed, {told.pop('survived', 0)} not", end="")
    for status in (*PRINTED, *sorted(set(told) - set(PRINTED))):
        print(f", {told[status]} {PRINTED.get(status, status)}", end="")
    print(f"; of those not noticed {len(survived) - len(left)} explained, {len(left)} left", flush=True)
    for fault in left:
        print(f"  {fault.name}: {' '.join(fault.brought) or 'without ' + ' '.join(fault.taken)}")
    return len(left)


def faults_of(scope: Scope, clone: Path) -> list[Fault]:
    """Return every fault of a scope with what became of it, those that were not noticed with their change."""
    git = ["git", "clone", "--quiet", str(ROOT), str(clone)]
    subprocess.run(git, check=True)
    settings = SETTINGS.format(modules=list(scope.modules), tests=list(scope.tests))
    with (clone / "pyproject.toml").open("a", encoding="utf-8") as file:
        file.write(settings)
    (clone / "tests/property/conftest.py").write_text(FEW_EXAMPLES, encoding="utf-8")
    run(clone, "run", "--max-children", str(WORKERS))
    faults = []
    for line in run(clone, "results", "--all", "true").splitlines():
        name, _, status = line.strip().rpartition(": ")
        if name:
            change = changed(run(clone, "show", name)) if status == "survived" else ((), ())
            faults.append(Fault(name, function_of(name), status, *change))
    return faults


def run(clone: Path, *arguments: str) -> str:
    """Return what mutmut prints; raises SystemExit (2) with the end of it where it fails."""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "TZ": "UTC"}
    done = subprocess.run(
        [MUTMUT, *arguments], cwd=clone, env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode:
        print(f"mutmut {' '.join(arguments)} failed: {(done.stdout + done.stderr)[-2000:]}", file=sys.stderr)
        raise SystemExit(2)
    return done.stdout


def function_of(name: str) -> str:
    """Return the function of a fault below `pipeline`, as `fees.prices.fee_of` or `fees.inverse.Hammers.best`."""
    module, _, mangled = name.partition("__mutmut_")[0].removeprefix("pipeline.").rpartition(".")
    own = (
        mangled.removeprefix("x_")
        if mangled.startswith("x_")
        else mangled.removeprefix("xǁ").replace("ǁ", ".")
    )
    return f"{module}.{own}"


def changed(difference: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the lines that a difference takes away, and those that it brings."""
    lines = [line for line in difference.splitlines() if not line.startswith(("+++", "---"))]
    taken = [line[1:].strip() for line in lines if line.startswith("-")]
    brought = [line[1:].strip() for line in lines if line.startswith("+")]
    return (
        tuple(line for line in taken if line not in brought),
        tuple(line for line in brought if line not in taken),
    )


def is_explained(fault: Fault, root: Path) -> bool:
    """Whether a fault only touches an argument that states what holds anyway, or code that is marked."""
    if _essence(fault.taken) == _essence(fault.brought):
        return True
    lines, first = source_of(fault.function, root)
    marked = [
        _code(lines[at])
        for at in range(first, len(lines))
        if MARK.search(lines[at]) or MARK.fullmatch(lines[at - 1].strip())
    ]
    whole = first > 0 and MARK.fullmatch(lines[first - 1].strip()) is not None
    return whole or (bool(fault.taken) and all(_code(line) in marked for line in fault.taken))


def source_of(function: str, root: Path) -> tuple[list[str], int]:
    """Return the lines of a file up to the end of one of its functions, and the place of its first line."""
    names = function.split(".")
    length = next(at for at in range(1, len(names)) if (root / "pipeline" / _file(names[:at])).is_file())
    path = root / "pipeline" / _file(names[:length])
    text = path.read_text(encoding="utf-8")
    body: list[ast.stmt] = ast.parse(text).body
    for name in names[length:]:
        found = next(node for node in body if getattr(node, "name", None) == name)
        body = getattr(found, "body", [])
    decorators = [node.lineno for node in getattr(found, "decorator_list", [])]
    return text.splitlines()[: found.end_lineno], min([found.lineno, *decorators]) - 1


def _file(names: Sequence[str]) -> str:
    return "/".join(names) + ".py"


def _code(line: str) -> str:
    """Return a line without its mark."""
    return MARK.sub("", line).strip()


def _essence(lines: Sequence[str]) -> str:
    """Return what lines say without the arguments that state what holds anyway."""
    text = _ASIDE.sub("", _code(" ".join(lines))).replace("astype(None)", "astype(np.float64)")
    return re.sub(r"[\s,]", "", text)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
