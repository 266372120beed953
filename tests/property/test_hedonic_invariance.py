"""What must not change a fit: the order of the records, how they are split, and how it is written down.

Tolerance: 1e-7 on log prices. The search for lambda stops at a slope of 1e-9 of n - M, which moves no log price
by more; what needs no search (the cross-products) is held to the last bit.
"""

import json
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from polars.testing import assert_frame_equal

from pipeline.hedonic.coding import find_coding
from pipeline.hedonic.database import DatabaseSource
from pipeline.hedonic.document import from_document, to_document
from pipeline.hedonic.fit import fit, fit_source
from pipeline.hedonic.frame import FrameSource
from pipeline.hedonic.predict import differences, predict, term_steps
from pipeline.hedonic.robust import Robust
from pipeline.hedonic.rows import rows_by_term
from pipeline.hedonic.source import ONE_STAGE, add
from pipeline.hedonic.specification import Specification, Term
from pipeline.hedonic.tallies import CountPairs

TOLERANCE = 1e-7

TERMS = (
    Term("silhouette", "pooled", ("silhouette",)),
    Term("box", "level", ("box",)),
    Term("box of silhouette", "pooled", ("silhouette", "box")),
    Term("grade", "curve", ("grade",)),
    Term("treatments", "flags", ("treatments",)),
    Term("month", "walk", ("month",)),
)
MODEL = Specification("log_price", TERMS)
WEIGHTED = Specification("log_price", TERMS, "weight")


def sales(seed: int, rows: int = 240) -> pl.DataFrame:
    """Return invented sales with nulls, flags and uneven weights; log prices are multiples of 2^-12."""
    random = np.random.default_rng(seed)
    month = random.integers(0, 24, rows)
    grade = random.integers(8, 21, rows) / 2
    boxes = np.array(["original", "none", "replacement", None], dtype=object)[random.integers(0, 4, rows)]
    treatments = [
        None if pick == 3 else ["reglue", "sole swap"][: int(pick)] for pick in random.integers(0, 4, rows)
    ]
    log_price = 5 + 0.08 * grade + 0.01 * month + random.standard_t(5, rows) * 0.2
    return pl.DataFrame(
        {
            "silhouette": [f"silhouette {number}" for number in random.integers(0, 12, rows)],
            "box": boxes.tolist(),
            "grade": grade,
            "treatments": treatments,
            "month": month,
            "weight": random.integers(1, 4, rows).astype(float),
            "log_price": np.round(log_price * 4096) / 4096,
        },
        schema_overrides={"treatments": pl.List(pl.String), "box": pl.String},
    )


@given(seed=st.integers(0, 10_000))
@settings(max_examples=8, deadline=None)
def test_shuffling_the_records_changes_no_price(seed: int) -> None:
    ordered = sales(1)
    shuffled = ordered.sample(fraction=1.0, shuffle=True, seed=seed)
    first, second = (predict(fit(frame, MODEL), ordered) for frame in (ordered, shuffled))
    assert_frame_equal(first, second, abs_tol=TOLERANCE)


def test_shuffling_the_records_changes_no_robust_price() -> None:
    ordered = sales(2)
    shuffled = ordered.sample(fraction=1.0, shuffle=True, seed=5)
    first, second = (predict(fit(frame, MODEL, robust=Robust()), ordered) for frame in (ordered, shuffled))
    assert_frame_equal(first, second, abs_tol=1e-6)


@given(cut=st.integers(1, 239))
@settings(max_examples=6, deadline=None)
def test_the_sums_of_two_partitions_add_up_exactly(cut: int) -> None:
    whole = sales(3)
    coding = find_coding(FrameSource(whole), MODEL.terms, ONE_STAGE)
    count = CountPairs(coding, 5.0)
    together, *parts = (
        FrameSource(part).code(coding, MODEL, ONE_STAGE).add_up(count)
        for part in (whole, whole[:cut], whole[cut:])
    )
    added = add(*parts)
    assert set(added) == set(together)
    for name, sums in together.items():
        if name[0] == "pairs":
            assert (added[name] != sums).nnz == 0
        else:
            assert np.array_equal(added[name], sums), name


@pytest.mark.parametrize("model", [MODEL, WEIGHTED])
@pytest.mark.parametrize("robust", [None, Robust(), Robust("huber")])
def test_the_database_finds_the_same_fit_as_memory(model: Specification, robust: Robust | None) -> None:
    frame = sales(4)
    inside = fit(frame, model, robust=robust)
    with duckdb.connect() as connection:
        relation = connection.from_arrow(frame.to_arrow())
        source = DatabaseSource(connection, relation)
        outside = fit_source(source, model, robust=robust)
    tolerance = TOLERANCE if robust is None else 1e-6
    assert_frame_equal(inside.labels, outside.labels)
    assert outside.coefficients == pytest.approx(inside.coefficients, abs=tolerance)
    assert outside.covariance.dense() == pytest.approx(inside.covariance.dense(), abs=tolerance)


def test_a_partitioned_folder_gives_the_fit_of_one_file(tmp_path: Path) -> None:
    frame = sales(5).with_columns((pl.col("month") // 12).alias("year"))
    frame.write_parquet(tmp_path / "one.parquet")
    frame.write_parquet(pl.PartitionBy(tmp_path / "parts", key=["year"], include_key=False))
    with duckdb.connect() as connection:
        one = fit_source(DatabaseSource(connection, tmp_path / "one.parquet"), MODEL)
        parts = fit_source(DatabaseSource(connection, tmp_path / "parts"), MODEL)
    assert parts.coefficients == pytest.approx(one.coefficients, abs=TOLERANCE)


def test_nothing_is_left_behind_in_the_database() -> None:
    with duckdb.connect() as connection:
        connection.execute("CREATE TABLE kept (one INTEGER)")
        fit_source(DatabaseSource(connection, connection.from_arrow(sales(6).to_arrow())), MODEL)
        tables = connection.execute("SELECT table_name FROM duckdb_tables()").fetchall()
        views = connection.execute("SELECT view_name FROM duckdb_views() WHERE NOT internal").fetchall()
    assert (tables, views) == ([("kept",)], [])


@pytest.mark.parametrize("reference", ["original", "none", "replacement", "unknown"])
def test_the_choice_of_the_reference_level_changes_no_price(reference: str) -> None:
    frame = sales(7)
    other = tuple(
        Term(term.name, term.kind, term.columns, reference if term.name == "box" else None) for term in TERMS
    )
    first, second = (
        predict(fit(frame, Specification("log_price", terms)), frame) for terms in (TERMS, other)
    )
    assert_frame_equal(first, second, abs_tol=TOLERANCE)


@pytest.mark.parametrize("robust", [None, Robust(degrees_of_freedom=4.0)])
def test_a_fit_written_down_and_read_back_predicts_the_same(robust: Robust | None) -> None:
    frame = sales(8)
    found = fit(frame, MODEL, robust=robust)
    description, arrays = to_document(found)
    again = from_document(json.loads(json.dumps(description)), arrays)
    assert_frame_equal(predict(again, frame), predict(found, frame), check_exact=True)
    assert_frame_equal(again.terms, found.terms, check_exact=True)
    assert (again.degrees_of_freedom, again.walks, again.convergence) == (
        found.degrees_of_freedom,
        found.walks,
        found.convergence,
    )


@given(seed=st.integers(0, 1000))
@settings(max_examples=8, deadline=None)
def test_the_steps_between_two_records_sum_to_their_difference(seed: int) -> None:
    found = fit(sales(9), MODEL)
    start, end = sales(seed + 30_000, 15), sales(seed + 40_000, 15)
    steps = term_steps(found, rows_by_term(found, start), rows_by_term(found, end))
    prices = predict(found, end)["log_price"] - predict(found, start)["log_price"]
    assert steps.sum(axis=1) == pytest.approx(prices.to_numpy(), abs=1e-10)
    assert differences(found, start, end)["effect"].to_numpy() == pytest.approx(prices.to_numpy(), abs=1e-10)
