-- resold_sales: the priced sales of pairs that were sold more than once, as response and discrete factors.
-- grain: record_id
-- reads: sales
-- columns: record_id VARCHAR, venue VARCHAR, sold_on DATE, log_price DOUBLE, silhouette VARCHAR, colourway VARCHAR, era VARCHAR, size_mm INTEGER, grade DOUBLE, box VARCHAR, tags VARCHAR, overlay VARCHAR, parts VARCHAR[], defects VARCHAR[], treatments VARCHAR[], month INTEGER
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
    venue,
    sold_on,
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
    (12 * year(sold_on) + month(sold_on) - 1)::INTEGER AS month
FROM sold
ORDER BY record_id
