-- venue_sales: how many sales each venue made by a day, and the day of its last one.
-- grain: venue
-- reads: sales
-- binds: as_of
-- columns: venue VARCHAR, sale_count BIGINT, last_sold_on DATE
SELECT
    venue,
    count(*) AS sale_count,
    max(sold_on) AS last_sold_on
FROM sales
WHERE status = 'sold'
  AND sold_on <= CAST($as_of AS DATE)
GROUP BY venue
ORDER BY venue
