"""The fit at the desk: begun, shown as the command says it, and shown again after the desk was closed."""

from collections.abc import Iterator

import pytest
from markupsafe import escape

from pipeline.answers.fit.tables import fit_sheet
from pipeline.desk.fitting import latest_summary
from pipeline.shipped import shipped
from tests.demo_ledger import demo_ledger
from tests.desk_client import OpenDesk, open_desk


def test_before_a_fit_there_is_only_the_button(read_desk: OpenDesk) -> None:
    shown = read_desk.client.get("/fit").text

    assert "Fit the market</button>" in shown
    assert "The latest" not in shown


def test_too_few_sales_are_said_and_change_nothing(read_desk: OpenDesk) -> None:
    begun = read_desk.client.post("/fit", follow_redirects=False)
    read_desk.wait()

    assert "needs" in read_desk.client.get(begun.headers["location"]).text


@pytest.fixture(scope="module")
def fitted_desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenDesk]:
    """Return the open desk of the demo's dealer, where the market was fitted, begun twice at once."""
    folder = tmp_path_factory.mktemp("fitted")
    for name, file in (
        ("pairband.duckdb", demo_ledger()[0]),
        ("market.toml", shipped("sample_data") / "market.toml"),
    ):
        (folder / name).write_bytes(file.read_bytes())
    with open_desk(folder) as opened:
        yield opened


def test_a_second_fit_is_not_begun_while_one_is_under_way(fitted_desk: OpenDesk) -> None:
    first = fitted_desk.client.post("/fit", follow_redirects=False).headers["location"]
    second = fitted_desk.client.post("/fit", follow_redirects=False).headers["location"]
    assert not fitted_desk.wait().error

    assert first == second


def test_a_fit_is_shown_with_its_doubted_sales_as_the_command_says_it(fitted_desk: OpenDesk) -> None:
    summary = latest_summary(fitted_desk.desk)
    shown = fitted_desk.client.get("/fit").text.replace("\u00a0", " ")

    assert summary is not None
    assert summary.doubted
    assert all(f'href="/records/{sale.record_id}"' in shown for sale in summary.doubted)
    assert [line for line in fit_sheet(summary).sentences if escape(line) not in shown] == []


def test_a_fit_is_shown_by_another_desk_too(fitted_desk: OpenDesk) -> None:
    with open_desk(fitted_desk.desk.folder) as again:
        assert latest_summary(again.desk) == latest_summary(fitted_desk.desk)


def test_a_fit_that_was_made_elsewhere_is_said_without_single_sales(fitted_desk: OpenDesk) -> None:
    summary = latest_summary(fitted_desk.desk)
    fitted_desk.desk.drafts.drop("the latest fit")
    stored = latest_summary(fitted_desk.desk)

    assert summary is not None
    assert stored is not None
    assert (stored.sales, stored.trend, stored.doubted) == (summary.sales, summary.trend, ())
    assert "This fit was made elsewhere" in fitted_desk.client.get("/fit").text
