"""The pages and files of buying and consigning: complete, harmless, and silent on what the house keeps."""

import csv
import io
import re
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import fastexcel
import polars as pl
import pytest

from pipeline.answers.backtest.tables import years_table
from pipeline.answers.consignment.answer import Consignment
from pipeline.answers.consignment.tables import venues_table
from pipeline.answers.lots.answer import CLOSED, SCHEMA, LotList
from pipeline.answers.lots.tables import MONEY, chance_words, lots_sheet, lots_table, state_lots
from pipeline.terminal.sheet import show_sheet
from reports.backtest.page import backtest_page
from reports.consignment.asks import ask_frame, asks_chart
from reports.consignment.page import consignment_figures, consignment_page
from reports.export import write_table
from reports.lots.page import MOST_ROWS, lots_page
from reports.page import keep_together
from tests.appraisals import HOSTILE
from tests.backtests import drawn_backtest
from tests.upcoming import COMMON, demo_consignment, demo_lots, upcoming_records, valued

BUSINESS = "Tidewrack Pairs"
FORMULA = '=HYPERLINK("x")'


def with_title(title: str) -> LotList:
    listed = demo_lots()
    return replace(listed, lots=listed.lots.with_columns(title=pl.lit(title)))


def with_secret(consignment: Consignment, secret: float) -> Consignment:
    """Return the consignment with what the house keeps replaced by an amount that is easily found."""
    kept = Decimal(secret)
    offers = tuple(
        replace(offer, at_median=replace(offer.at_median, commission=kept)) for offer in consignment.offers
    )
    return replace(consignment, offers=offers)


def test_the_sheet_gives_one_figure_for_what_its_best_venue_leaves() -> None:
    sheet = consignment_page(demo_consignment(), business=BUSINESS)
    headline = re.search(r'<span class="amount">([^<]+)</span>', sheet)
    first = venues_table(demo_consignment()).texts()[0]

    assert headline is not None
    assert headline[1] in first
    assert f"leaves {headline[1]} after all charges" in sheet


def test_the_answer_names_the_first_lot_and_how_far_to_go() -> None:
    assert state_lots(demo_lots()).startswith("40 lots: ")
    assert "up to €" in state_lots(demo_lots())


def test_every_lot_stands_on_the_page_once() -> None:
    assert lots_page(demo_lots(), business=BUSINESS).count("<tr data-verdict=") == 40


def test_a_long_list_says_how_many_it_leaves_off() -> None:
    listed = demo_lots()
    many = replace(listed, lots=pl.concat([listed.lots] * 60))

    page = lots_page(many, business=BUSINESS)
    assert page.count("<tr data-verdict=") == MOST_ROWS
    assert "400 lots of lower rank are not on this page" in page


def closing(*days: date) -> LotList:
    """Return the first lots of the demo, as many as there are days, closing on these."""
    records = upcoming_records().head(len(days)).with_columns(closed_on=pl.Series(days))
    return replace(demo_lots(), lots=valued(records))


def test_closed_lots_are_folded_up_below_the_open_ones() -> None:
    page = lots_page(closing(date(2026, 9, 29), date(2026, 10, 9)), business=BUSINESS)
    folded = page[page.index("<summary>1 lot whose sale is over") :]
    assert [part.count(f'<tr data-verdict="{CLOSED}"') for part in (page, folded)] == [1, 1]


def test_where_all_lots_are_closed_the_answer_names_the_last_day_on_which_one_was_open() -> None:
    answer = state_lots(closing(date(2026, 9, 29), date(2026, 9, 12)))
    assert answer == (
        "2 lots, all closed before 1 Oct 2026. Value them as of another day with `--on`: on `--on 2026-09-29` the last "
        "of them was open."
    )


def test_a_page_of_closed_lots_alone_runs_no_script() -> None:
    assert "<script" not in lots_page(closing(date(2026, 9, 29)), business=BUSINESS)


def test_an_empty_list_is_a_page_too() -> None:
    empty = replace(demo_lots(), lots=demo_lots().lots.clear())

    assert "There is no lot in this file." in lots_page(empty, business=BUSINESS)


def test_a_hostile_title_stays_text_on_the_page() -> None:
    page = lots_page(with_title(HOSTILE), business=HOSTILE)

    assert "<img src=x" not in page
    assert "</script><script>document" not in page


def test_a_row_that_could_not_be_read_is_named() -> None:
    assert "row 9: price_native" in lots_page(demo_lots(), business=BUSINESS)


def test_a_title_like_a_formula_is_no_formula_in_the_csv(tmp_path: Path) -> None:
    [path] = write_table(lots_table(with_title(FORMULA)), csv=tmp_path / "lots.csv")

    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8-sig"))))
    assert {row["title"] for row in rows} == {"'" + FORMULA}


def test_a_title_like_a_formula_is_text_in_the_workbook(tmp_path: Path) -> None:
    [path] = write_table(lots_table(with_title(FORMULA)), excel=tmp_path / "lots.xlsx")

    sheet = fastexcel.read_excel(path).load_sheet("lots").to_polars()
    assert set(sheet["title"]) == {FORMULA}


def test_the_workbook_has_every_lot_with_its_maximum_bid(tmp_path: Path) -> None:
    [path] = write_table(lots_table(demo_lots()), excel=tmp_path / "lots.xlsx")

    sheet = fastexcel.read_excel(path).load_sheet("lots").to_polars()
    assert sheet["walk_away_bid"].to_list() == demo_lots().lots["walk_away_bid"].to_list()


def test_money_columns_say_their_currency() -> None:
    assert {"landed_cost_eur", "expected_gain_eur", "walk_away_bid", "native_currency"} <= set(
        lots_table(demo_lots()).rows.columns
    )


def test_every_column_of_a_lot_is_declared_once_in_the_order_of_its_answer() -> None:
    declared = lots_table(demo_lots())

    assert [column.key for column in declared.columns] == declared.rows.columns
    assert declared.rows.columns == [f"{name}_eur" if name in MONEY else name for name in SCHEMA]


def test_the_terminal_shows_the_lots_by_verdict_with_how_many_there_are() -> None:
    titles = list(dict.fromkeys(table.title for table in lots_sheet(demo_lots()).tables))

    assert titles[0].startswith("bid (")
    assert sum(int(re.sub(r"\D", "", title)) for title in titles) == 40


def test_a_long_title_is_wrapped_in_the_terminal_and_not_cut(capsys: pytest.CaptureFixture[str]) -> None:
    title = " ".join(f"word{number}" for number in range(40))
    listed = with_title(title)
    unnamed = [pl.lit(None, dtype=pl.String).alias(name) for name in ("silhouette", "colourway", "era")]

    show_sheet(lots_sheet(replace(listed, lots=listed.lots.head(1).with_columns(unnamed))))
    shown = capsys.readouterr().out
    assert [word for word in title.split() if word not in shown.split()] == []


def test_a_bid_is_written_in_the_currency_of_its_house() -> None:
    lots = lots_table(demo_lots())
    yen = replace(lots, rows=lots.rows.filter(pl.col("native_currency") == "JPY"))

    assert all(text.startswith("JP¥") for text in yen.texts_of("walk_away_bid"))


def test_a_chance_beyond_what_is_tabulated_says_no_more_than_that() -> None:
    assert [chance_words(chance) for chance in (0.025, 0.5, 0.975)] == [
        "under 3\u00a0%",
        "50\u00a0%",
        "over 97\u00a0%",
    ]


def test_the_sheet_compares_venues_without_what_the_house_keeps_of_each() -> None:
    sheet = consignment_page(demo_consignment(), business=BUSINESS)
    secret = consignment_page(with_secret(demo_consignment(), 98765.0), business=BUSINESS)

    assert sheet == secret
    assert "house keeps" not in sheet


def test_the_sheet_says_what_each_venue_leaves_the_consignor() -> None:
    sheet = consignment_page(demo_consignment(), business=BUSINESS)

    assert all(offer.venue in sheet for offer in demo_consignment().offers)
    assert ">Net at the median<" in sheet


def test_the_sheet_carries_each_suggestion_with_how_it_was_reached() -> None:
    sheet = consignment_page(demo_consignment(), business=BUSINESS)

    lines = [line for offer in demo_consignment().offers for line in offer.suggestions]
    assert all(keep_together(line.how) in sheet for line in lines)


def test_a_hostile_label_stays_text_on_the_sheet() -> None:
    hostile = demo_consignment(replace(COMMON, label=HOSTILE))

    assert "<img src=x" not in consignment_page(hostile, business=HOSTILE)


def test_the_chart_of_asks_keeps_to_the_schema() -> None:
    offer = next(offer for offer in demo_consignment().offers if offer.curve)

    assert asks_chart(offer, "EUR", patience=60).to_dict(validate=True)["layer"]


def test_the_suggested_ask_is_marked_with_its_chance_in_words() -> None:
    offer = next(offer for offer in demo_consignment().offers if offer.curve)
    suggested = max(offer.curve, key=lambda point: point.expected_net)
    data = asks_chart(offer, "EUR", patience=60).to_dict()["datasets"].values()
    [mark] = [row for rows in data for row in rows if "suggested" in row]

    assert mark["ask"] == suggested.ask
    assert f"{round(100 * suggested.chance_in_patience)}\u00a0% sold within 60 days" in mark["suggested"]


def test_the_charts_of_asks_of_two_venues_have_one_axis() -> None:
    charts = [figure.chart.to_dict() for figure in consignment_figures(demo_consignment())]
    domains = [chart["layer"][0]["encoding"]["x"]["scale"]["domain"] for chart in charts]

    assert len(domains) == 2
    assert domains[0] == domains[1]


def test_the_chart_of_asks_draws_each_ask_and_horizon_once() -> None:
    offer = next(offer for offer in demo_consignment().offers if offer.curve)

    frame = ask_frame(offer, "EUR")
    assert frame.height == 3 * len(offer.curve) == frame.unique(["ask", "days"]).height


def test_the_page_of_a_back_test_tells_of_the_curse() -> None:
    page = backtest_page(drawn_backtest(), business=BUSINESS)

    assert "winner" in page
    assert "Year by year" in page


def test_what_stands_under_a_table_stands_under_it_on_the_page_too() -> None:
    tested = drawn_backtest()
    under = backtest_page(tested, business=BUSINESS).split("Mean gain of a won lot, by year</caption>")[1]

    assert f"</table>\n</div>\n<p><bdi>{years_table(tested).note}" in under


def test_the_page_of_a_back_test_says_which_fit_judges() -> None:
    page = backtest_page(drawn_backtest(), business=BUSINESS)

    assert drawn_backtest().source.fit_id in page
