-- lot_ends: how many lots of each venue ended by a day, and how many of them were sold.
-- grain: venue
-- reads: sales
-- binds: as_of
-- columns: venue VARCHAR, lots BIGINT, sold BIGINT
SELECT
    venue,
    count(*) AS lots,
    count(*) FILTER (WHERE status = 'sold') AS sold
FROM sales
WHERE status IN ('sold', 'unsold')
  AND coalesce(sold_on, closed_on) <= CAST($as_of AS DATE)
GROUP BY venue
ORDER BY venue
