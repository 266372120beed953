-- What:    the sales that can be priced: the response and its discrete factors, and what a comparable shows
-- Grain:   one row per sale (record_id), the most recent first
-- Reads:   sales
-- Columns: record_id, title, venue, sold_on, price_paid, log_price, silhouette, colourway, era, size_mm,
--          grade, box, tags, overlay, parts, defects, treatments, month
-- Binds:   $silhouette (NULL for all), $most (NULL for all: how many rows at most)
WITH sold AS (
    SELECT *
    FROM sales
    WHERE status = 'sold'
      AND price_paid > 0
      AND sold_on IS NOT NULL
      AND silhouette IS NOT NULL
      AND NOT held_out
      AND ($silhouette IS NULL OR silhouette = $silhouette)
)

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
    (12 * year(sold_on) + month(sold_on) - 1)::INTEGER AS month
FROM sold
ORDER BY sold_on DESC, record_id
LIMIT coalesce($most, 9223372036854775807)
