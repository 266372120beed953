"""Marks of code in which no test can notice a fault: read where the code stands."""

from pathlib import Path

import pytest

from tests.bench.bench_mutation import MARK, ROOT, Fault, changed, is_explained

SOURCE = """
def twice(number):
    if number <= 9:  # mutation: equivalent, both ways give the same
        return number + number
    # mutation: equivalent, two is two
    return number * 2


# mutation: equivalent, from any start it ends alike
@staticmethod
def root(number):
    return number
"""


@pytest.fixture
def root(tmp_path: Path) -> Path:
    (tmp_path / "pipeline/fees").mkdir(parents=True)
    (tmp_path / "pipeline/fees/sums.py").write_text(SOURCE, encoding="utf-8")
    return tmp_path


def fault(function: str, taken: str, brought: str) -> Fault:
    lines = changed(f"--- a\n+++ b\n-{taken}\n+{brought}")
    return Fault("one", f"fees.sums.{function}", "survived", *lines)


def test_a_mark_at_the_end_of_a_line_explains_it(root: Path) -> None:
    line = "    if number <= 9:  # mutation: equivalent, both ways give the same"
    assert is_explained(fault("twice", line, line.replace("<=", "<")), root)


def test_a_mark_on_the_line_above_explains_a_line(root: Path) -> None:
    assert is_explained(fault("twice", "    return number * 2", "    return number * 3"), root)


def test_a_mark_above_a_function_explains_all_of_it(root: Path) -> None:
    assert is_explained(fault("root", "    return number", "    return None"), root)


def test_a_line_without_a_mark_is_not_explained(root: Path) -> None:
    taken = "        return number + number"
    assert not is_explained(fault("twice", taken, "        return number - number"), root)


@pytest.mark.parametrize(
    ("taken", "brought"),
    [
        ("for a, b in zip(x, y, strict=True)", "for a, b in zip(x, y, strict=False)"),
        ("for a, b in zip(x, y, strict=True)", "for a, b in zip(x, y, )"),
        ("return pl.lit(one, dtype=pl.Int128)", "return pl.lit(one, dtype=None)"),
        ("return one.astype(np.float64)", "return one.astype(None)"),
    ],
)
def test_an_argument_that_states_what_holds_anyway_needs_no_mark(
    root: Path, taken: str, brought: str
) -> None:
    assert is_explained(fault("twice", taken, brought), root)


def test_another_change_beside_such_an_argument_needs_one(root: Path) -> None:
    assert not is_explained(fault("twice", "zip(x, y, strict=True)", "zip(x, None, strict=True)"), root)


def test_every_mark_in_the_code_can_be_read() -> None:
    lines = [line for path in ROOT.glob("pipeline/**/*.py") for line in path.read_text("utf-8").splitlines()]
    marked = [line for line in lines if "mutation:" in line]
    assert marked
    assert [line for line in marked if not MARK.search(line)] == []
