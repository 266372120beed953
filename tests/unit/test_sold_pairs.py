"""Which pairs of the stock are sold, which are there, and of which nobody can say."""

from datetime import date

import polars as pl
import pytest

from pipeline.answers.stock.cautions import gone_cautions, list_cautions
from pipeline.answers.stock.sold import DOUBTFUL, HERE, SOLD, with_sales

MAY, JUNE, JULY = date(2026, 5, 1), date(2026, 6, 1), date(2026, 7, 1)
BOUGHT = date(2026, 1, 10)
Row = tuple[str | None, date | None]


def listed(*rows: Row, on: date | None = None) -> pl.DataFrame:
    """Return listed pairs: stock number and the day of buying, in a list of that day."""
    schema = {"stock_ref": pl.String, "since": pl.Date}
    return pl.DataFrame(list(rows), schema=schema, orient="row").with_columns(
        listed_on=pl.lit(on, pl.Date), file_name=pl.lit("stock.csv"), row_number=pl.int_range(2, pl.len() + 2)
    )


def sales(*rows: tuple[str, date]) -> pl.DataFrame:
    """Return sales: stock number and day."""
    schema = {"stock_ref": pl.String, "sold_on": pl.Date}
    return pl.DataFrame(list(rows), schema=schema, orient="row").with_columns(
        record_id=pl.int_range(pl.len()).cast(pl.String), venue=pl.lit("Lantern Dock")
    )


def earlier(*rows: tuple[str, date]) -> pl.DataFrame:
    """Return pairs of earlier lists: stock number and the day of buying."""
    return pl.DataFrame(list(rows), schema={"stock_ref": pl.String, "bought_on": pl.Date}, orient="row")


def states(pairs: pl.DataFrame, sold: pl.DataFrame, known: pl.DataFrame | None = None) -> list[str]:
    return with_sales(pairs, earlier() if known is None else known, sold)["state"].to_list()


def cautions(pairs: pl.DataFrame, sold: pl.DataFrame, known: pl.DataFrame | None = None) -> tuple[str, ...]:
    """Return what is said of a list without amounts."""
    beside = with_sales(pairs, earlier() if known is None else known, sold)
    amounts = {name: pl.lit(None, pl.Float64) for name in ("cost", "work", "ask")}
    records = beside.select(
        "stock_ref",
        "row_number",
        unread=pl.lit([], pl.List(pl.Struct(dict.fromkeys(("field", "value", "reason"), pl.String)))),
        **{name: pl.lit(None, pl.Float64) for name in ("price_native", "work_paid", "ask_native")},
        **{f"{name}_currency": pl.lit(None, pl.String) for name in amounts},
    )
    return list_cautions(beside.with_columns(**amounts), records, "EUR", as_of=JULY)


def test_a_pair_without_a_sale_is_there() -> None:
    assert states(listed(("A1", BOUGHT)), sales()) == [HERE]


def test_a_pair_without_a_number_is_there() -> None:
    assert states(listed((None, BOUGHT)), sales(("A1", MAY))) == [HERE]


@pytest.mark.parametrize("day", [BOUGHT, MAY])
def test_a_pair_leaves_by_a_sale_on_or_after_the_day_it_was_bought(day: date) -> None:
    assert states(listed(("A1", BOUGHT)), sales(("A1", day))) == [SOLD]


def test_a_pair_of_which_nobody_knows_when_it_was_bought_leaves_by_its_number() -> None:
    assert states(listed(("A1", None)), sales(("A1", MAY))) == [SOLD]


def test_a_pair_sold_on_the_day_of_the_list_has_left_it() -> None:
    assert states(listed(("A1", BOUGHT), on=MAY), sales(("A1", MAY))) == [SOLD]


def test_a_pair_that_a_later_list_still_names_is_in_doubt() -> None:
    found = with_sales(listed(("A1", BOUGHT), on=JUNE), earlier(), sales(("A1", MAY)))

    assert found.select("state", "why").rows() == [(DOUBTFUL, "still in the list of 1 Jun 2026")]


def test_a_number_used_again_is_a_new_pair_once_the_old_one_was_sold() -> None:
    pairs = listed(("A1", BOUGHT), ("A1", JUNE), on=JULY)

    assert states(pairs, sales(("A1", JULY))) == [HERE, SOLD]


def test_a_sale_is_of_the_pair_that_was_bought_last_before_it() -> None:
    found = with_sales(listed(("A1", JUNE)), earlier(("A1", BOUGHT)), sales(("A1", MAY)))

    assert found.select("state", "is_early").rows() == [(HERE, False)]


def test_two_pairs_of_one_number_of_which_one_was_sold_are_both_in_doubt() -> None:
    found = with_sales(listed(("A1", BOUGHT), ("A1", BOUGHT)), earlier(), sales(("A1", MAY)))

    assert found.select("state", "why").rows() == [(DOUBTFUL, "its number stands 2 times")] * 2


def test_two_pairs_of_one_number_that_was_sold_twice_have_both_left_each_by_its_own_sale() -> None:
    found = with_sales(listed(("A1", BOUGHT), ("A1", BOUGHT)), earlier(), sales(("A1", MAY), ("A1", JUNE)))

    assert found["state"].to_list() == [SOLD, SOLD]
    assert sorted(found["sold_on"]) == [MAY, JUNE]


def test_the_rows_of_a_list_stay_in_their_order() -> None:
    pairs = listed(("A3", BOUGHT), ("A1", None), ("A2", BOUGHT))

    assert with_sales(pairs, earlier(), sales(("A1", MAY)))["stock_ref"].to_list() == ["A3", "A1", "A2"]


def test_an_empty_list_has_no_pair() -> None:
    assert states(listed(), sales(("A1", MAY))) == []


def test_a_sale_from_before_the_pair_was_bought_is_said() -> None:
    [said] = cautions(listed(("A1", JUNE)), sales(("A1", MAY)))

    assert said.startswith("Sold before it came in: A1. It counts as still there")


def test_a_sale_of_an_earlier_pair_of_the_number_is_no_doubt() -> None:
    assert cautions(listed(("A1", JUNE)), sales(("A1", MAY)), earlier(("A1", BOUGHT))) == ()


def test_a_pair_bought_on_a_day_to_come_is_said() -> None:
    [said] = cautions(listed(("A1", date(2026, 7, 2))), sales())

    assert said.startswith("Bought on a day that is still to come: A1; correct it")


def test_a_number_that_stands_twice_is_said_with_its_rows() -> None:
    [said] = cautions(listed(("A1", BOUGHT), ("A1", BOUGHT)), sales())

    assert said == "Stock number A1 stands twice (rows 2, 3): each row counts as a pair of its own."


def test_a_pair_that_is_in_doubt_counts_nowhere_and_that_is_said() -> None:
    [said] = cautions(listed(("A1", BOUGHT), on=JUNE), sales(("A1", MAY)))

    assert said.startswith("1 pair may be sold or still there: sale and list disagree.")


def test_a_pair_that_left_the_list_without_a_sale_is_said() -> None:
    [said] = gone_cautions(earlier(("A1", BOUGHT), ("A2", BOUGHT)), sales(("A2", MAY)))

    assert "no sale of it is known: A1." in said


def test_pairs_that_left_the_list_by_their_sales_are_not_missed() -> None:
    assert gone_cautions(earlier(("A1", BOUGHT)), sales(("A1", MAY))) == ()
