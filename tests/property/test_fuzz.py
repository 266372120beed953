"""Texts and files that mean harm: a short draw of what tests/bench/bench_fuzz.py tries a million times."""

import random
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.corpus.cases import CASES
from tests.fuzz import PARSERS, hostile_content, hostile_text, parse, read

READ = [case for case in CASES if not case.error]
ENDINGS = sorted({Path(case.file).suffix for case in READ})


@pytest.mark.parametrize("parser", PARSERS)
def test_a_parser_gives_a_row_for_each_text_whatever_it_holds(parser: str) -> None:
    rng = random.Random(f"short {parser}")
    parse(parser, [hostile_text(rng) for _ in range(400)])


@pytest.mark.parametrize("ending", ENDINGS)
@settings(max_examples=15)
@given(seed=st.integers(0, 2**32))
def test_a_file_that_is_spoilt_is_read_or_refused_in_words(ending: str, seed: int) -> None:
    rng = random.Random(seed)
    case = rng.choice([case for case in READ if case.file.endswith(ending)])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / case.file
        path.write_bytes(hostile_content(rng, case.content))
        assert read(path, case, whole=False)


@pytest.mark.parametrize("file", ["typed.xlsx", "log.jsonl"])
def test_no_row_of_a_spoilt_file_is_lost(file: str, tmp_path: Path) -> None:
    [case] = [case for case in READ if case.file == file]
    (tmp_path / file).write_bytes(case.content)
    assert read(tmp_path / file, case, whole=True) == "rows"
