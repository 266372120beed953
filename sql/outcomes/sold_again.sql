-- sold_again: each sale of a pair with the next one of the same pair, with all that its net needs.
-- grain: first_id
-- reads: sales
-- binds: as_of
-- columns: first_id VARCHAR, record_id VARCHAR, stock_ref VARCHAR, venue VARCHAR, sold_on DATE, currency VARCHAR, price_basis VARCHAR, price_native DECIMAL(18,4), all_in_native DECIMAL(18,4), net_native DECIMAL(18,4), rate DOUBLE, price_paid DECIMAL(18,4), flags VARCHAR[]
WITH turns AS (
    SELECT
        *,
        lag(record_id) OVER turn AS first_id,
        lag(sold_on) OVER turn AS first_sold_on
    FROM sales
    WHERE status = 'sold'
      AND pair_key IS NOT NULL
      AND NOT held_out
      AND sold_on <= CAST($as_of AS DATE)
    WINDOW turn AS (PARTITION BY pair_key ORDER BY sold_on, record_id)
)

SELECT
    first_id,
    record_id,
    stock_ref,
    venue,
    sold_on,
    currency,
    price_basis,
    price_native,
    all_in_native,
    net_native,
    rate,
    price_paid,
    flags
FROM turns
WHERE first_sold_on < sold_on
ORDER BY first_id
