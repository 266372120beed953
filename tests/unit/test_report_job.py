"""Every report in one folder, from a small ledger of an early export."""

import re
from datetime import UTC, date, datetime
from pathlib import Path

import polars as pl
import pytest
from click.testing import CliRunner

from pipeline.answers.fit.run import fit_ledger
from pipeline.answers.ingest.run import ingest_exports
from pipeline.answers.report.run import Built, build_reports
from pipeline.cli import app
from pipeline.shipped import shipped
from pipeline.workspace import Workspace

NOW = datetime(2019, 12, 31, tzinfo=UTC)
AS_OF = date(2019, 12, 31)
PAIRS = 2


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Return the reports of one early export, with a stock list of two pairs."""
    folder = tmp_path_factory.mktemp("reports")
    exports = shipped("sample_data") / "exports"
    market, ledger = shipped("sample_data") / "market.toml", folder / "pairband.duckdb"
    ingest_exports(ledger, market, [exports / "holm_2017_2019.csv"], map_name=None, loaded_at=NOW)
    fit_ledger(ledger, market, fitted_at=NOW)
    stock = folder / "stock.csv"
    lines = (exports / "stock.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    stock.write_text("".join(lines[: PAIRS + 1]), encoding="utf-8")
    return build_reports(
        Workspace(ledger, market),
        folder / "pages",
        as_of=AS_OF,
        stock=stock,
        lots=None,
        on_progress=lambda step, done, total: None,
    )


def test_the_stock_of_the_ledger_has_its_pages_without_a_list_being_named(tmp_path: Path) -> None:
    exports, market = shipped("sample_data") / "exports", shipped("sample_data") / "market.toml"
    ledger, stock = tmp_path / "pairband.duckdb", tmp_path / "stock.csv"
    lines = (exports / "stock.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    stock.write_text("".join(lines[: PAIRS + 1]), encoding="utf-8")
    read = [exports / "holm_2017_2019.csv", stock]
    ingest_exports(ledger, market, read, map_name=None, listed_on=AS_OF, loaded_at=NOW)
    fit_ledger(ledger, market, fitted_at=NOW)
    built = build_reports(
        Workspace(ledger, market),
        tmp_path / "pages",
        as_of=AS_OF,
        stock=None,
        lots=None,
        on_progress=lambda step, done, total: None,
    )

    assert [link for link in links(built) if link.startswith("stock/")] == ["stock/1.html", "stock/2.html"]
    assert built.skipped == ("upcoming lots: name a file of them with --lots",)


def links(built: Built) -> list[str]:
    return re.findall(r'<a href="\./([^"]+)"', built.index.read_text(encoding="utf-8"))


def test_the_index_leads_to_every_page(built: Built) -> None:
    assert sorted(links(built)) == sorted(
        page.relative_to(built.index.parent).as_posix() for page in built.pages
    )


def test_every_page_is_there(built: Built) -> None:
    assert [page for page in built.pages if not page.is_file()] == []


def test_each_pair_of_the_stock_has_a_page(built: Built) -> None:
    assert [link for link in links(built) if link.startswith("stock/")] == ["stock/1.html", "stock/2.html"]


def test_each_pair_of_the_stock_has_a_consignment_sheet(built: Built) -> None:
    assert [link for link in links(built) if link.startswith("sheets/")] == ["sheets/1.html", "sheets/2.html"]


def test_pricing_page_market_and_audit_are_always_built(built: Built) -> None:
    assert {"pricing.html", "market.html", "restoration.html", "audit.html"} <= set(links(built))


def test_what_is_left_out_is_said_with_what_is_wanted_for_it(built: Built) -> None:
    assert built.skipped == ("upcoming lots: name a file of them with --lots",)


def test_without_a_file_of_lots_there_is_no_page_of_lots(built: Built) -> None:
    assert "lots.html" not in links(built)


def test_every_page_forbids_the_network(built: Built) -> None:
    pages = pl.Series([page.read_text(encoding="utf-8") for page in (built.index, *built.pages)])
    assert pages.str.contains("default-src &#39;none&#39;", literal=True).all()


def test_no_page_is_heavier_than_3_mb(built: Built) -> None:
    assert max(page.stat().st_size for page in built.pages) < 3_000_000


def _called(built: Built, command: str, target: Path, *more: str) -> str:
    """Return what a command says of the ledger that the reports were built from."""
    ledger, market = built.index.parents[1] / "pairband.duckdb", shipped("sample_data") / "market.toml"
    files = ("--ledger", str(ledger), "--market", str(market), "--on", str(AS_OF))
    where = ("--page", str(target)) if command == "pricing" else (str(target),)
    done = CliRunner().invoke(app, [command, *where, *files, *more], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def test_the_pricing_page_carries_past_sales_and_says_how_many(built: Built) -> None:
    html = (built.index.parent / "pricing.html").read_text(encoding="utf-8")
    assert re.search(r"\d+ past sales, each with its title, venue, day of sale, exact price", html)


def test_the_pricing_page_carries_no_sales_on_request(built: Built, tmp_path: Path) -> None:
    _called(built, "pricing", tmp_path / "pricing.html", "--without-sales")
    html = (tmp_path / "pricing.html").read_text(encoding="utf-8")
    assert "past sales, each with" not in html
    assert "The past sales, and with them the comparables" in html


def test_the_reports_carry_no_sales_on_request(built: Built, tmp_path: Path) -> None:
    _called(built, "report", tmp_path, "--without-sales")
    html = (tmp_path / "pricing.html").read_text(encoding="utf-8")
    assert "The past sales, and with them the comparables" in html
    assert "band, and what makes the price." in (tmp_path / "index.html").read_text(encoding="utf-8")


def hrefs(page: Path) -> list[str]:
    return re.findall(r'<a [^>]*href="([^"#]+)"', page.read_text(encoding="utf-8"))


def test_no_link_of_any_page_is_dead(built: Built) -> None:
    pages = (built.index, *built.pages)
    assert [
        (page.name, link) for page in pages for link in hrefs(page) if not (page.parent / link).is_file()
    ] == []


def test_every_page_but_the_sheets_leads_back_to_the_index(built: Built) -> None:
    lost = [
        page.name
        for page in built.pages
        if page.parent.name != "sheets"
        and built.index not in [(page.parent / link).resolve() for link in hrefs(page)]
    ]
    assert lost == []


def test_a_pair_leads_to_its_sheet_and_to_the_next_pair(built: Built) -> None:
    first = built.index.parent / "stock" / "1.html"
    assert hrefs(first) == ["../index.html", "./2.html", "../sheets/1.html"]


def test_a_sheet_leads_nowhere_since_it_is_sent_alone(built: Built) -> None:
    assert hrefs(built.index.parent / "sheets" / "2.html") == []


def table_of_stock(built: Built) -> str:
    html = built.index.read_text(encoding="utf-8")
    return html[html.index('<table class="stock">') : html.index("</table>")]


def test_the_index_shows_the_stock_in_one_table_with_cost_era_and_grade(built: Built) -> None:
    headings = re.findall(r'<th scope="col"[^>]*>([^<]+)', table_of_stock(built))
    assert headings[:6] == ["Pair", "Era", "Grade", "Cost and work", "Fair value", "80 % band"]


def test_the_cost_of_the_stock_is_the_sum_of_what_its_file_says(built: Built) -> None:
    foot = table_of_stock(built).partition("<tfoot>")[2]
    listed = pl.read_csv(built.index.parent.parent / "stock.csv")
    spent = listed["cost"].sum() + listed["work"].sum()
    assert f"€{spent:,.0f}</td>" in foot


def test_the_index_says_how_many_pairs_the_totals_are_of(built: Built) -> None:
    assert f">{PAIRS} pairs together</th>" in table_of_stock(built)
