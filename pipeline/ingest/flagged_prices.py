"""The prices that a fit takes for typing errors, as flags of their sales."""

import polars as pl

from pipeline.errors import UnknownName
from pipeline.ingest.same import settle_sales
from pipeline.ledger import Ledger
from pipeline.schema import FLAGS


def flag_prices(ledger: Ledger, flags: pl.DataFrame) -> None:
    """Put the price flags of a fit in the place of those before, and derive again the sales that they are of.

    `flags` holds record_id String and flag String (one of FLAGS); a sale may have several. Raises
    UnknownName for a flag that is not known.
    """
    for flag in flags["flag"].unique().to_list():
        if flag not in FLAGS:
            raise UnknownName.among("flag", flag, FLAGS)
    with ledger.transaction():
        ledger.write("staging/forget_flagged_sales", flags)
        ledger.run("marts/forget_price_flags")
        ledger.write("marts/price_flags", flags)
        settle_sales(ledger)
