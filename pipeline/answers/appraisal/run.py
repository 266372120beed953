"""Value pairs with the latest fit."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import polars as pl

from pipeline.answers.appraisal.answer import appraise
from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.config import Market, load_market
from pipeline.errors import FitError, PairError
from pipeline.ledger import Ledger, open_ledger
from pipeline.market.fitted_market import FittedMarket, from_stored, why_stale
from pipeline.market.pair import Pair
from pipeline.market.subject import Description, override, pairs_of_records, understand

MOST_COMPARABLE_SALES = 20_000
"""How many sales of a silhouette, the most recent, are looked through for comparables."""


def appraise_descriptions(
    ledger_path: Path,
    market_path: Path,
    descriptions: Sequence[Description],
    *,
    as_of: date,
    as_written: bool = False,
) -> tuple[Appraisal, ...]:
    """Value pairs that the owner describes in words."""
    market = load_market(market_path)
    pairs = [understand(description, market, as_written=as_written) for description in descriptions]
    with open_ledger(ledger_path, read_only=True) as ledger:
        return _appraise(pairs, ledger, market, as_of=as_of)


def appraise_file(
    ledger_path: Path,
    market_path: Path,
    file: Path,
    *,
    row: int | None,
    as_of: date,
    described: Description | None = None,
) -> tuple[Appraisal, ...]:
    """Value the pairs of a file (see `pairs_of_file`), or one row of it."""
    market = load_market(market_path)
    pairs = pairs_of_file(file, market, row=row, as_of=as_of, described=described)
    with open_ledger(ledger_path, read_only=True) as ledger:
        return _appraise(pairs, ledger, market, as_of=as_of)


def pairs_of_file(
    file: Path, market: Market, *, row: int | None, as_of: date, described: Description | None = None
) -> tuple[Pair, ...]:
    """Return the pairs of a file (an export map with `holds` stock or lots), or that of one row, counted from 1.

    What is `described` besides goes before what the file says, and each pair says so (`Pair.read_as`). Raises
    PairError where a row cannot be read, where there is no such row, or for a word that means nothing.
    """
    records = read_pairs(file, market, as_of=as_of)
    if row is not None:
        if row > records.height:
            raise PairError(f"{file} has {records.height} pairs; there is no row {row}", "rows count from 1.")
        records = records[row - 1 : row]
    pairs = pairs_of_records(records)
    return pairs if described is None else tuple(override(pair, described, market) for pair in pairs)


def read_pairs(file: Path, market: Market, *, as_of: date) -> pl.DataFrame:
    """Return the rows of a file of pairs (see `read_lots`); raises PairError where one cannot be read."""
    from pipeline.ingest.lots import read_lots

    records, refused = read_lots(file, market, as_of=as_of)
    if refused.height:
        first = refused.row(0, named=True)
        raise PairError(
            f"{file}: row {first['row_number']}: {first['field']} {first['value']!r}: {first['reason']}"
            + (f" (and {refused.height - 1} more rows)" if refused.height > 1 else ""),
            "correct the row or the map.",
        )
    return records


def _appraise(pairs: Sequence[Pair], ledger: Ledger, market: Market, *, as_of: date) -> tuple[Appraisal, ...]:
    fitted, stale = latest_fit(ledger, market)
    appraisals: list[Appraisal] = []
    for pair in pairs:
        sales = ledger.read("marts/priced_sales", silhouette=pair.silhouette, most=MOST_COMPARABLE_SALES)
        appraisals.append(appraise(pair, fitted, market, sales, as_of=as_of, stale=stale))
    return tuple(appraisals)


def latest_fit(ledger: Ledger, market: Market) -> tuple[FittedMarket, str]:
    """Return the latest fit, and in words why it is stale ("" where it is not)."""
    stored = ledger.read("marts/latest_fit")
    if not stored.height:
        raise FitError(f"{ledger.path} holds no fit yet", "run `pairband fit` first.")
    row = stored.row(0, named=True)
    fitted = from_stored(row["document"], row["arrays"])
    digest = str(ledger.read("marts/records_digest").item())
    stale = why_stale(fitted.market_digest, fitted.records_digest, market, digest)
    return fitted, f"T{stale[0].what[1:]}: {stale[0].remedy}" if stale else ""
