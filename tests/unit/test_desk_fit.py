"""The fit at the desk: begun, shown as the command says it, and shown again after the desk was closed."""

from pathlib import Path

from markupsafe import escape

from pipeline.desk.calls import call
from pipeline.desk.fitting import latest_summary
from tests.desk_client import OpenDesk, open_desk


def fitted(opened: OpenDesk) -> None:
    opened.client.post("/fit", follow_redirects=False)
    assert not opened.wait().error


def test_before_a_fit_there_is_only_the_button(read_desk: OpenDesk) -> None:
    shown = read_desk.client.get("/fit").text

    assert "Fit the market</button>" in shown
    assert "The latest" not in shown


def test_too_few_sales_are_said_and_change_nothing(read_desk: OpenDesk) -> None:
    begun = read_desk.client.post("/fit", follow_redirects=False)
    read_desk.wait()

    assert "needs" in read_desk.client.get(begun.headers["location"]).text


def test_a_fit_is_shown_with_its_doubted_sales_also_by_another_desk(
    demo_desk: OpenDesk, tmp_path: Path
) -> None:
    fitted(demo_desk)
    summary = latest_summary(demo_desk.desk)
    shown = demo_desk.client.get("/fit").text

    assert summary is not None
    assert f"{summary.sales:,} sales" in shown
    assert summary.doubted
    assert all(f'href="/records/{sale.record_id}"' in shown for sale in summary.doubted)
    with open_desk(tmp_path) as again:
        assert latest_summary(again.desk) == summary


def test_a_fit_that_was_made_elsewhere_is_said_without_single_sales(demo_desk: OpenDesk) -> None:
    fitted(demo_desk)
    summary = latest_summary(demo_desk.desk)
    demo_desk.desk.drafts.drop("the latest fit")
    stored = latest_summary(demo_desk.desk)

    assert summary is not None
    assert stored is not None
    assert (stored.sales, stored.trend, stored.doubted) == (summary.sales, summary.trend, ())
    assert "This fit was made elsewhere" in demo_desk.client.get("/fit").text


def test_a_second_fit_is_not_begun_while_one_is_under_way(demo_desk: OpenDesk) -> None:
    first = demo_desk.client.post("/fit", follow_redirects=False).headers["location"]
    second = demo_desk.client.post("/fit", follow_redirects=False).headers["location"]
    demo_desk.wait()

    assert first == second


def test_the_fit_of_the_desk_is_that_of_the_command(demo_desk: OpenDesk) -> None:
    fitted(demo_desk)
    shown = demo_desk.client.get("/fit").text.replace("\u00a0", " ")
    [sheet] = call("fit", ()).sheets

    assert [line for line in sheet.sentences if line in shown]
    assert [line for line in sheet.sentences if escape(line) not in shown] == []
