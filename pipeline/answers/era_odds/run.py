"""Value a pair whose era is in doubt."""

from datetime import date
from pathlib import Path

import numpy as np
import polars as pl

from pipeline.answers.appraisal.run import pair_of, records_of_file
from pipeline.answers.era_odds.answer import FROM_SALES, EraInDoubt, read_odds, value_in_doubt
from pipeline.answers.era_odds.learned import LearnedEras, learn_from_records
from pipeline.market.era_mixture import EraChances
from pipeline.market.seen import Seen, SeenWords, read_seen, seen_of_record
from pipeline.market.subject import Description, override, pairs_of_records
from pipeline.schema import UNKNOWN
from pipeline.workspace import Workspace


def appraise_in_doubt(
    workspace: Workspace,
    described: Description,
    odds: str,
    *,
    as_of: date,
    seen: SeenWords | None = None,
    file: Path | None = None,
    row: int | None = None,
    at_price: float | None = None,
    as_written: bool = False,
) -> EraInDoubt:
    """Value a pair that the owner describes, or one row of a file (see `pairs_of_file`), by the chances of its era.

    `odds` are words such as "first=0.7,second=0.3", or FROM_SALES: learned from the records, by what is `seen`.
    """
    market = workspace.market
    if file is None:
        pair, known = pair_of(workspace, described, as_written=as_written), Seen()
    else:
        record = records_of_file(file, market, row=row, as_of=as_of)
        pair = override(pairs_of_records(record)[0], described, market)
        known = seen_of_record(record.row(0, named=True), market, as_of=as_of)
    learned = None
    if odds.strip().casefold() == FROM_SALES:
        looked = read_seen(seen or SeenWords(), market, as_of=as_of, known=known)
        learned = learn_eras_of(workspace, as_of=as_of).odds_of(pair, looked)
    return value_in_doubt(
        pair,
        read_odds(odds, market) if learned is None else learned.odds,
        workspace.fitted,
        workspace.sales_of(pair.silhouette).filter(pl.col("sold_on") <= as_of),
        as_of=as_of,
        at_price=at_price,
        learned=learned,
        stale=workspace.stale,
    )


def eras_of_list(workspace: Workspace, records: pl.DataFrame, *, as_of: date) -> EraChances | None:
    """Return the learned chances of the eras that rows of a list do not state (columns of `read_lots`).

    None where every row states its era. A row without a name is left as it is.
    """
    rows = (
        records.select(
            (pl.col("era").is_null() | (pl.col("era") == UNKNOWN))
            & pl.coalesce("silhouette", "title").is_not_null()
        )
        .to_series()
        .arg_true()
        .to_numpy()
        .astype(np.int64)
    )
    if not len(rows):
        return None
    learned = learn_eras_of(workspace, as_of=as_of)
    doubtful = records[rows]
    seen = [seen_of_record(row, workspace.market, as_of=as_of) for row in doubtful.iter_rows(named=True)]
    pairs = list(zip(pairs_of_records(doubtful), seen, strict=True))
    return EraChances(rows, learned.model.eras, learned.chances(pairs))


def learn_eras_of(workspace: Workspace, *, as_of: date) -> LearnedEras:
    """Return what the records of the ledger up to a day teach of eras."""

    def learn() -> LearnedEras:
        return learn_from_records(
            workspace.ledger.read("marts/era_records", as_of=as_of),
            workspace.ledger.read("marts/label_years", as_of=as_of),
            workspace.market,
            as_of=as_of,
        )

    return workspace.once(("eras", as_of), learn)
