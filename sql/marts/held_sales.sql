-- held_sales: the sales that are excluded from the fit pending review.
-- grain: record_id
-- reads: sales, record_sources
-- columns: record_id VARCHAR, venue VARCHAR, title VARCHAR, day DATE, price_paid DECIMAL(18,4), era VARCHAR, era_origin VARCHAR, stamp_text VARCHAR, production_year INTEGER, flags VARCHAR[], source_count BIGINT
WITH counted AS (
    SELECT record_id, count(*) AS source_count
    FROM record_sources
    GROUP BY record_id
)
SELECT
    sales.record_id,
    venue,
    title,
    coalesce(sold_on, closed_on) AS day,
    price_paid,
    era,
    era_origin,
    stamp_text,
    production_year,
    flags,
    source_count
FROM sales
INNER JOIN counted ON sales.record_id = counted.record_id
WHERE held_out
ORDER BY day, sales.record_id
