"""Records that cannot carry a model are refused by name and count; terms that cannot be distinguished are named."""

import math

import duckdb
import polars as pl
import pytest

from pipeline.errors import FitError
from pipeline.hedonic.coding import find_coding
from pipeline.hedonic.database import DatabaseSource
from pipeline.hedonic.fit import fit, fit_source
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.predict import predict
from pipeline.hedonic.source import ONE_STAGE
from pipeline.hedonic.specification import Specification, Term

BOX = Term("box", "level", ("box",))
MODEL = Specification("log_price", (BOX,))


def sales(**changes: list[object]) -> pl.DataFrame:
    columns: dict[str, list[object]] = {
        "log_price": [5.0, 5.2, 5.1, 5.6, 5.5, 5.9],
        "box": ["none", "none", "none", "original", "original", "original"],
        "month": [0, 1, 2, 0, 1, 2],
    }
    return pl.DataFrame({**columns, **changes}, strict=False)


@pytest.mark.parametrize("value", [None, math.nan, math.inf])
def test_a_price_that_is_no_number_is_refused_with_its_row(value: float | None) -> None:
    broken = sales(log_price=[5.0, 5.2, value, 5.6, value, 5.9])
    with pytest.raises(FitError, match=r"2 of 6 values in the response column 'log_price' .* in row 3"):
        fit(broken, MODEL)


@pytest.mark.parametrize("value", [None, math.nan, math.inf])
def test_the_database_refuses_a_price_that_is_no_number_too(value: float | None) -> None:
    broken = sales(log_price=[5.0, 5.2, value, 5.6, value, 5.9])
    with (
        duckdb.connect() as connection,
        pytest.raises(FitError, match="2 of 6 values in the column 'log_price' cannot be used"),
    ):
        fit_source(DatabaseSource(connection, connection.from_arrow(broken.to_arrow())), MODEL)


def test_no_records_at_all_are_refused() -> None:
    with pytest.raises(FitError, match="'log_price' has no rows"):
        fit(sales().clear(), MODEL)


def test_the_database_refuses_no_records_at_all() -> None:
    with duckdb.connect() as connection, pytest.raises(FitError, match="there are no records"):
        fit_source(DatabaseSource(connection, connection.from_arrow(sales().clear().to_arrow())), MODEL)


def test_a_column_that_is_not_there_is_named_with_its_neighbour() -> None:
    with pytest.raises(FitError, match=r"term 'box' reads the column 'boxx'(.|\n)*did you mean 'box'"):
        fit(sales(), Specification("log_price", (Term("box", "level", ("boxx",)),)))


def test_the_database_names_a_column_that_is_not_there() -> None:
    model = Specification("log_price", (Term("box", "level", ("boxx",)),))
    with duckdb.connect() as connection, pytest.raises(FitError, match=r"'boxx'(.|\n)*did you mean 'box'"):
        fit_source(DatabaseSource(connection, connection.from_arrow(sales().to_arrow())), model)


def test_prices_that_are_text_are_refused() -> None:
    with pytest.raises(FitError, match="response column 'log_price' is String"):
        fit(sales(log_price=["5", "6", "5", "6", "5", "6"]), MODEL)


def test_a_single_record_is_refused() -> None:
    with pytest.raises(FitError, match="1 records cannot carry 1 unpenalised effects"):
        fit(sales()[:1], MODEL)


def test_fewer_records_than_effects_are_refused_with_both_counts() -> None:
    own = sales().with_row_index("lot").with_columns(pl.col("lot").cast(pl.String))
    with pytest.raises(FitError, match="6 records cannot carry 6 unpenalised effects"):
        fit(own, Specification("log_price", (Term("lot", "level", ("lot",)),)))


def test_fewer_records_than_pooled_effects_are_no_hindrance() -> None:
    own = sales().with_row_index("lot").with_columns(pl.col("lot").cast(pl.String))
    found = fit(own, Specification("log_price", (Term("lot", "pooled", ("lot",)),)))
    assert found.layout.size == 7
    assert predict(found, own)["log_price"].is_finite().all()


def test_prices_that_are_all_equal_are_refused() -> None:
    with pytest.raises(FitError, match="all 6 prices are equal"):
        fit(sales(log_price=[5.0] * 6), MODEL)


def test_a_weight_of_zero_is_refused_with_its_count() -> None:
    weighted = sales(weight=[1, 0, 1, 0, 1, 1])
    with pytest.raises(FitError, match="2 weights in the column 'weight' are not positive"):
        fit(weighted, Specification("log_price", (BOX,), "weight"))


def test_a_term_of_one_level_is_left_out_and_named() -> None:
    found = fit(sales(box=["none"] * 6), Specification("log_price", (BOX, Term("month", "walk", ("month",)))))
    assert found.dropped.rows() == [("box", "", "all records carry one level")]


def test_a_flag_that_nobody_carries_is_left_out_and_named() -> None:
    bare = sales().with_columns(pl.lit([], dtype=pl.List(pl.String)).alias("treatments"))
    found = fit(bare, Specification("log_price", (BOX, Term("treatments", "flags", ("treatments",)))))
    assert found.dropped.rows() == [("treatments", "", "no record carries a level")]


def test_a_term_that_repeats_another_is_left_out_and_named() -> None:
    twice = sales().with_columns(pl.col("box").alias("carton"))
    found = fit(twice, Specification("log_price", (BOX, Term("carton", "level", ("carton",)))))
    assert found.dropped.rows() == [("carton", "original", "collinear with the terms before it")]
    assert predict(found, twice)["log_price"].to_list() == pytest.approx([5.1] * 3 + [17 / 3] * 3)


def test_a_flag_that_everybody_carries_is_collinear_with_the_intercept() -> None:
    all_cleaned = sales().with_columns(pl.lit(["deep clean"]).alias("treatments"))
    found = fit(all_cleaned, Specification("log_price", (BOX, Term("treatments", "flags", ("treatments",)))))
    assert found.dropped["level"].to_list() == ["deep clean"]


def test_age_beside_year_and_month_loses_its_slope_but_fits() -> None:
    aged = pl.DataFrame(
        {
            "log_price": [5.0, 5.3, 5.1, 5.8, 5.5, 5.9, 5.7, 6.0, 5.2],
            "sold": [0, 0, 0, 1, 1, 1, 2, 2, 2],
            "made": [0, 1, 2, 0, 1, 2, 0, 1, 2],
        }
    ).with_columns((pl.col("sold") - pl.col("made")).alias("age"))
    curves = tuple(Term(name, "curve", (name,)) for name in ("sold", "made", "age"))
    found = fit(aged, Specification("log_price", curves))
    assert found.dropped["term"].to_list() == ["age"]
    assert found.convergence.ridge_floor == 0


def test_an_infinite_size_is_refused() -> None:
    wild = sales(month=[0.0, math.inf, 2.0, 0.0, 1.0, 2.0])
    with pytest.raises(FitError, match="1 values of the column 'month' are infinite"):
        fit(wild, Specification("log_price", (Term("month", "walk", ("month",)),)))


def test_a_walk_over_text_is_refused() -> None:
    with pytest.raises(FitError, match="the term 'box' orders the column 'box', which is String"):
        fit(sales(), Specification("log_price", (Term("box", "walk", ("box",)),)))


def test_flags_in_a_plain_column_are_refused() -> None:
    with pytest.raises(FitError, match="the term 'box' needs a list in the column 'box'"):
        fit(sales(), Specification("log_price", (Term("box", "flags", ("box",)),)))


def test_a_list_as_a_plain_level_is_refused() -> None:
    listed = sales().with_columns(pl.concat_list("box").alias("box"))
    with pytest.raises(FitError, match="the term 'box' is a `level`, but the column 'box' holds lists"):
        fit(listed, MODEL)


def test_a_reference_that_no_record_carries_is_refused() -> None:
    with pytest.raises(FitError, match="the reference 'gold', which no record carries"):
        fit(sales(), Specification("log_price", (Term("box", "level", ("box",), "gold"),)))


def test_two_terms_of_one_name_are_refused() -> None:
    twice = Specification("log_price", (BOX, Term("box", "pooled", ("month",))))
    with pytest.raises(FitError, match="two terms are called 'box'"):
        fit(sales(), twice)


def test_a_record_with_a_level_that_the_coding_has_not_is_refused() -> None:
    coding = find_coding(FrameSource(sales()[:4]), MODEL.terms, ONE_STAGE)
    with pytest.raises(FitError, match="6 records have a level that the design does not know"):
        FrameSource(sales(box=["crate"] * 6)).code(coding, MODEL, ONE_STAGE)


def test_the_database_refuses_a_level_that_the_coding_has_not_too() -> None:
    coding = find_coding(FrameSource(sales()[:4]), MODEL.terms, ONE_STAGE)
    with duckdb.connect() as connection:
        source = DatabaseSource(connection, connection.from_arrow(sales(box=["crate"] * 6).to_arrow()))
        with pytest.raises(FitError, match="6 records have a level that the design does not know"):
            source.code(coding, MODEL, ONE_STAGE)


def test_a_database_of_prices_that_are_text_is_refused() -> None:
    texts = sales(log_price=["5", "6", "5", "6", "5", "6"])
    with duckdb.connect() as connection, pytest.raises(FitError, match="'log_price' is String"):
        fit_source(DatabaseSource(connection, connection.from_arrow(texts.to_arrow())), MODEL)
