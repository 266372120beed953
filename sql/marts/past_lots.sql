{% from "macros/factors.jinja" import described, factors %}
-- past_lots: the priced sales that were knocked down at an auction at a known hammer price, in the columns of
-- priced_sales, with hammer price and rate beside them.
-- grain: record_id
-- reads: sales
-- binds: venues (names of the auction venues)
-- columns: record_id VARCHAR, title VARCHAR, sold_on DATE, price_paid DOUBLE, log_price DOUBLE, hammer DECIMAL(18,4), rate DOUBLE, {{ described() }}
SELECT
    record_id,
    coalesce(title, '') AS title,
    sold_on,
    price_paid::DOUBLE AS price_paid,
    ln(price_paid::DOUBLE) AS log_price,
    price_native AS hammer,
    rate,
{{ factors('sold_on') }}FROM sales
WHERE list_contains(CAST($venues AS VARCHAR[]), venue)
  AND status = 'sold'
  AND price_basis = 'hammer'
  AND price_native > 0
  AND price_paid > 0
  AND rate > 0
  AND sold_on IS NOT NULL
  AND silhouette IS NOT NULL
  AND NOT held_out
ORDER BY sold_on, record_id
