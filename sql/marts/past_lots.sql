-- past_lots: the priced sales that were knocked down at an auction at a known hammer price, in the columns of
-- priced_sales, with hammer price and rate beside them.
-- grain: record_id
-- reads: sales
-- binds: venues (names of the auction venues)
-- columns: record_id VARCHAR, title VARCHAR, venue VARCHAR, sold_on DATE, price_paid DOUBLE, log_price DOUBLE, silhouette VARCHAR, colourway VARCHAR, era VARCHAR, size_mm INTEGER, grade DOUBLE, box VARCHAR, tags VARCHAR, overlay VARCHAR, parts VARCHAR[], defects VARCHAR[], treatments VARCHAR[], month INTEGER, hammer DECIMAL(18,4), rate DOUBLE
SELECT
    record_id,
    coalesce(title, '') AS title,
    venue,
    sold_on,
    price_paid::DOUBLE AS price_paid,
    ln(price_paid::DOUBLE) AS log_price,
    silhouette,
    colourway,
    era,
    (5 * round(foot_mm / 5.0))::INTEGER AS size_mm,
    grade,
    coalesce(box, 'unknown') AS box,
    coalesce(tags, 'unknown') AS tags,
    coalesce(overlay, 'unknown') AS overlay,
    parts,
    defects,
    treatments,
    (12 * year(sold_on) + month(sold_on) - 1)::INTEGER AS month,
    price_native AS hammer,
    rate
FROM sales
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
