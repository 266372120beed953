-- forget_price_flags: clear the price flags before those of a newer fit.
-- writes: price_flags
TRUNCATE price_flags
