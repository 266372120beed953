"""Every awkward export of the corpus gives the ledger, or the reason, that stands beside it."""

from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from pipeline import errors
from pipeline.config import Market
from pipeline.ingest.run import IngestRun, ingest_files
from pipeline.ledger import Ledger, open_ledger
from pipeline.ledger.checks import run_checks
from tests.corpus.case import Case
from tests.corpus.cases import CASES
from tests.kept import sales_of, unread_cells_of

FILES = Path(__file__).parent / "files"
NAMES = [case.file for case in CASES]


def _ingest(case: Case, market: Market, ledger: Ledger) -> IngestRun:
    mapped = market.model_copy(update={"maps": {"corpus": case.export_map()}})
    return ingest_files(
        ledger, mapped, [FILES / case.file], as_of=date(2026, 6, 30), loaded_at=datetime(2026, 6, 30)
    )


def test_the_corpus_holds_at_least_sixty_files_of_different_names() -> None:
    assert len(set(NAMES)) == len(NAMES) >= 60


@pytest.mark.parametrize(
    "case", [case for case in CASES if not case.file.endswith(".parquet")], ids=lambda case: case.file
)
def test_the_file_of_a_case_holds_what_the_case_says(case: Case) -> None:
    assert (FILES / case.file).read_bytes() == case.content


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.file)
def test_an_awkward_export_gives_its_ledger_or_its_reason(case: Case, market: Market, tmp_path: Path) -> None:
    with open_ledger(tmp_path / "ledger.duckdb", create=True) as ledger:
        if case.error:
            with pytest.raises(getattr(errors, case.error), match=case.match):
                _ingest(case, market, ledger)
            assert ledger.read("staging/row_counts").row(0) == (0, 0, 0)
            return
        run = _ingest(case, market, ledger)
        assert _recorded(ledger, case.sales) == list(case.sales)
        assert _reasons(ledger, case) == [(row, field) for row, field, _ in case.quarantine]
        assert unread_cells_of(ledger) == sorted(case.unread)
        for part in case.notes:
            assert any(part in note for note in run.files[0].notes), run.files[0].notes
        assert run_checks(ledger) == ()


def _recorded(ledger: Ledger, expected: tuple[dict[str, str | None], ...]) -> list[dict[str, Any]]:
    """Return the sales in the order of their first rows, with the columns that the case names, as text."""
    sales = sales_of(ledger).to_dicts()
    names = [list(sale) for sale in expected] + [[]] * len(sales)
    return [
        {name: None if sale[name] is None else str(sale[name]) for name in wanted}
        for sale, wanted in zip(sales, names, strict=False)
    ]


def _reasons(ledger: Ledger, case: Case) -> list[tuple[int, str]]:
    found = ledger.read("staging/quarantine_list").to_dicts()
    for row, (_, _, part) in zip(found, case.quarantine, strict=False):
        assert part in row["reason"]
    return [(row["row_number"], row["field"]) for row in found]
