"""What a venue takes from buyer and seller: exact to the minor unit, from the hammer price and back."""

from pipeline.fees.columns import all_in_column, hammer_column, net_column
from pipeline.fees.prices import charge_of, fee_of, hammer_from_all_in

__all__ = [
    "all_in_column",
    "charge_of",
    "fee_of",
    "hammer_column",
    "hammer_from_all_in",
    "net_column",
]
