-- stock_sales: the sales of pairs that carry a stock number of the owner's, by number and day; undone sales are none.
-- grain: record_id
-- reads: sales
-- binds: as_of
-- columns: stock_ref VARCHAR, record_id VARCHAR, venue VARCHAR, sold_on DATE, currency VARCHAR, price_basis VARCHAR, price_native DECIMAL(18,4), all_in_native DECIMAL(18,4), net_native DECIMAL(18,4), rate DOUBLE, price_paid DOUBLE, flags VARCHAR[]
SELECT
    stock_ref,
    record_id,
    venue,
    sold_on,
    currency,
    price_basis,
    price_native,
    all_in_native,
    net_native,
    rate,
    price_paid::DOUBLE AS price_paid,
    flags
FROM sales
WHERE stock_ref IS NOT NULL
  AND status = 'sold'
  AND sold_on <= CAST($as_of AS DATE)
ORDER BY stock_ref, sold_on, record_id
