-- own_sales: the sales of pairs that carry a stock number of the owner's, with all that a profit needs of them.
-- grain: record_id
-- reads: sales
-- binds: as_of
-- columns: record_id VARCHAR, stock_ref VARCHAR, silhouette VARCHAR, colourway VARCHAR, era VARCHAR, venue VARCHAR, sold_on DATE, currency VARCHAR, price_basis VARCHAR, price_native DECIMAL(18,4), all_in_native DECIMAL(18,4), net_native DECIMAL(18,4), rate DOUBLE, price_paid DECIMAL(18,4), flags VARCHAR[]
SELECT
    record_id,
    stock_ref,
    silhouette,
    colourway,
    era,
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
FROM sales
WHERE stock_ref IS NOT NULL
  AND status = 'sold'
  AND sold_on <= CAST($as_of AS DATE)
ORDER BY sold_on, record_id
