"""What title and notes say together: the title first, the notes for what it leaves open."""

import polars as pl

from pipeline.config import Market
from pipeline.ingest.titles import LIST_KINDS
from pipeline.schema import CLOSED_FIELDS

FROM_TITLE, FROM_NOTES = "title", "notes"
SINGLE = ("maker", "silhouette", "colourway", "era", "grade", *CLOSED_FIELDS)
LISTS = tuple(LIST_KINDS)
_TOGETHER = {"size_label": ("size_label", "size_system"), "stamp_text": ("stamp_text",), "year_from": (
    "year_from", "years_era", "years_odds",
)}  # fmt: skip
"""What is taken from one of the two as a whole, by the column that tells whether it is there."""


def said_in_texts(titles: pl.DataFrame, notes: pl.DataFrame, market: Market) -> pl.DataFrame:
    """Return, row by row, what title and notes say together, both as `read_titles` reads them.

    The columns of `read_titles` but its title; for each attribute, the size label, the stamp and the years
    `<name>_from` ("title" or "notes", null where neither says it); for each attribute `<name>_differs` Boolean: the
    two contradict each other,
    and the title counts. Parts, defects and treatments that both name are put together; a title that denies any goes
    before notes that name some. `notes_taken` is `taken` of the notes. A colourway that only the notes name counts
    under a silhouette that has it.
    """
    own = notes.with_columns(pl.all().name.prefix("_")).select(pl.selectors.starts_with("_"))
    both = _with_fitting_colourways(pl.concat([titles, own], how="horizontal"), market)
    columns: list[pl.Expr] = [pl.col("taken"), pl.col("_taken").alias("notes_taken")]
    for name in SINGLE:
        columns += _chosen(name, (name,))
        columns.append((pl.col(name) != pl.col(f"_{name}")).fill_null(value=False).alias(f"{name}_differs"))
    for name in LISTS:
        some = pl.col(name).list.len() > 0, pl.col(f"_{name}").list.len() > 0
        united = pl.concat_list(name, f"_{name}").list.unique(maintain_order=True)
        columns += [
            pl.when(some[0] & some[1]).then(united).otherwise(pl.coalesce(name, f"_{name}")).alias(name),
            _source(name),
            (some[0] != some[1]).fill_null(value=False).alias(f"{name}_differs"),
        ]
    for leading, names in _TOGETHER.items():
        columns += _chosen(leading, names)
    return both.select(columns)


def texts_disagree(texts: pl.DataFrame, *settled: pl.DataFrame) -> pl.Series:
    """Return, row by row, whether the notes contradict the title in an attribute that the title decided.

    `settled` are the frames with what became of the attributes (`<name>_origin`).
    """
    differs = [
        pl.col(f"{name}_differs") & (pl.col(f"{name}_origin") == FROM_TITLE) for name in (*SINGLE, *LISTS)
    ]
    return pl.concat([texts.select(pl.selectors.ends_with("_differs")), *settled], how="horizontal").select(
        pl.any_horizontal(differs).alias("texts_disagree")
    )["texts_disagree"]


def _with_fitting_colourways(both: pl.DataFrame, market: Market) -> pl.DataFrame:
    pairs = pl.DataFrame(
        [(one.name, own.name) for one in market.silhouettes for own in one.colourways],
        schema=["_under", "_colourway"],
        orient="row",
    ).cast(pl.String)
    fitting = both.with_columns(_under=pl.coalesce("silhouette", "_silhouette")).join(
        pairs.with_columns(_fits=pl.lit(value=True)),
        on=["_under", "_colourway"],
        how="left",
        maintain_order="left",
    )
    return fitting.with_columns(
        _colourway=pl.when(pl.col("_fits") | pl.col("_under").is_null()).then("_colourway")
    )


def _chosen(leading: str, names: tuple[str, ...]) -> list[pl.Expr]:
    """Return columns from the title where it has the leading one, else from the notes; with their source."""
    there = pl.col(leading).is_not_null()
    values = [pl.when(there).then(name).otherwise(f"_{name}").alias(name) for name in names]
    return [*values, _source(leading)]


def _source(name: str) -> pl.Expr:
    return (
        pl.when(pl.col(name).is_not_null())
        .then(pl.lit(FROM_TITLE))
        .when(pl.col(f"_{name}").is_not_null())
        .then(pl.lit(FROM_NOTES))
        .alias(f"{name}_from")
    )
