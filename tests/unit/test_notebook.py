"""The answers in a notebook: the documented example runs, and says what the command says."""

import json
import re
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import altair as alt
import polars as pl
import pytest
from click.testing import CliRunner

from pipeline import notebook
from pipeline.answers.fit.run import fit_ledger
from pipeline.answers.ingest.run import ingest_exports
from pipeline.cli import app
from pipeline.notebook import Folder, open_folder
from pipeline.shipped import shipped

NOW = datetime(2019, 12, 31, tzinfo=UTC)
DAY = date(2019, 12, 31)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("shop") / "demo"
    folder.mkdir()
    scene = shipped("sample_data")
    (folder / "market.toml").write_bytes((scene / "market.toml").read_bytes())
    (folder / "stock.csv").write_bytes((scene / "exports" / "stock.csv").read_bytes())
    ledger, market = folder / "pairband.duckdb", folder / "market.toml"
    ingest_exports(ledger, market, [scene / "exports" / "holm_2017_2019.csv"], map_name=None, loaded_at=NOW)
    fit_ledger(ledger, market, fitted_at=NOW)
    return folder


@pytest.fixture
def folder(shop: Path) -> Folder:
    return open_folder(shop)


def test_the_example_of_the_module_runs(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(shop.parent)
    lines = re.findall(r"^    (.+)$", notebook.__doc__ or "", re.M)
    names: dict[str, object] = {}
    for line in lines:
        exec(line, names)
    assert names["gannet"].sentences  # type: ignore[attr-defined]


def test_an_appraisal_is_that_of_the_command(folder: Folder, shop: Path) -> None:
    reply = folder.appraise(silhouette="Gannet Hi", grade="8", as_of=DAY)
    words = ["appraise", "--silhouette", "Gannet Hi", "--grade", "8", "--on", DAY.isoformat(), "--json"]
    places = ["--ledger", str(shop / "pairband.duckdb"), "--market", str(shop / "market.toml")]
    answered = json.loads(CliRunner().invoke(app, [*words, *places]).stdout)
    assert reply.answer.median == pytest.approx(answered["median"], abs=1e-6)


@pytest.mark.parametrize("name", ["appraise", "consign", "restore", "stock", "changed", "market", "audit"])
def test_every_answer_has_sentences_frames_and_charts(name: str, folder: Folder, shop: Path) -> None:
    described: dict[str, Any] = {"silhouette": "Gannet Hi"} if name in ("appraise", "consign") else {}
    described |= {"since": DAY} if name == "changed" else {}
    stock = (shop / "stock.csv",) if name in ("restore", "stock", "changed") else ()
    reply = getattr(folder, name)(*stock, as_of=DAY, **described)
    assert reply.sentences
    assert all(isinstance(frame, pl.DataFrame) for frame in reply.tables.values())
    assert reply.tables
    assert all(isinstance(chart, alt.TopLevelMixin) for chart in reply.charts.values())
    assert reply.charts or name == "consign"  # too few listings for a chart of asks


def test_a_reply_shows_itself_without_letting_words_become_markup(folder: Folder) -> None:
    shown = folder.appraise(silhouette="<b>Gannet</b>", as_of=DAY)._repr_html_()
    assert "<h3>" in shown
    assert "&lt;b&gt;" in shown
    assert "<b>Gannet</b>" not in shown
