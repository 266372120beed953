{% from "macros/factors.jinja" import described, factors %}
-- resold_sales: the priced sales of pairs that were sold more than once, as response and discrete factors.
-- grain: record_id
-- reads: sales
-- columns: record_id VARCHAR, sold_on DATE, log_price DOUBLE, {{ described() }}
WITH sold AS (
    SELECT *
    FROM sales
    WHERE status = 'sold'
      AND price_paid > 0
      AND sold_on IS NOT NULL
      AND silhouette IS NOT NULL
      AND NOT held_out
      AND pair_key IS NOT NULL
    QUALIFY count(*) OVER (PARTITION BY pair_key) > 1
)

SELECT
    record_id,
    sold_on,
    ln(price_paid::DOUBLE) AS log_price,
{{ factors('sold_on') }}FROM sold
ORDER BY record_id
