"""What a venue takes from buyer and seller: exact to the minor unit, from the hammer price and back."""

from pipeline.fees.amounts import all_in_from_hammer, buyer_fee, fee_of, seller_net
from pipeline.fees.columns import all_in_column, hammer_column, net_column
from pipeline.fees.inverse import Inverse, greatest_hammer, hammer_from_all_in, hammer_from_net

__all__ = [
    "Inverse",
    "all_in_column",
    "all_in_from_hammer",
    "buyer_fee",
    "fee_of",
    "greatest_hammer",
    "hammer_column",
    "hammer_from_all_in",
    "hammer_from_net",
    "net_column",
    "seller_net",
]
