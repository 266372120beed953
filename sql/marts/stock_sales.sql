-- stock_sales: the sales of pairs that carry a stock number of the owner's, by number and day; undone sales are none.
-- grain: record_id
-- reads: sales
-- binds: as_of
-- columns: stock_ref VARCHAR, record_id VARCHAR, venue VARCHAR, sold_on DATE, price_paid DOUBLE, net DOUBLE
SELECT
    stock_ref,
    record_id,
    venue,
    sold_on,
    price_paid::DOUBLE AS price_paid,
    (net_native / rate)::DOUBLE AS net
FROM sales
WHERE stock_ref IS NOT NULL
  AND status = 'sold'
  AND sold_on <= CAST($as_of AS DATE)
ORDER BY stock_ref, sold_on, record_id
