"""Give each row what was read from its cell: parsers work on distinct texts, rows look them up."""

import polars as pl


def look_up(texts: pl.Series, read: pl.DataFrame) -> pl.DataFrame:
    """Return one row a text, in order: the columns of `read` but its first, which is the text itself.

    `read` has one row a distinct text; a null text, or one that is not there, has nulls.
    """
    key = read.columns[0]
    if texts.null_count() == texts.len():
        nothing = read.drop(key).schema
        return pl.select(
            pl.repeat(None, texts.len(), dtype=dtype).alias(name) for name, dtype in nothing.items()
        )
    return (
        texts.alias(key).cast(pl.String).to_frame()
        .join(read, on=key, how="left", maintain_order="left")
        .drop(key)
    )  # fmt: skip
