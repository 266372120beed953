-- forget_price_flags: make room for the price flags of a newer fit.
-- writes: price_flags
TRUNCATE price_flags
