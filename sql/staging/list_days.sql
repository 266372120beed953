-- list_days: the days that the stock lists of one map are of, and which list counts on each.
-- grain: file_sha256, listed_on
-- reads: stock_lists
-- binds: map_name
-- columns: file_sha256 VARCHAR, listed_on DATE, counts BOOLEAN
SELECT
    file_sha256,
    listed_on,
    row_number() OVER (PARTITION BY listed_on ORDER BY reading_number DESC) = 1 AS counts
FROM stock_lists
WHERE map_name = $map_name
ORDER BY listed_on, reading_number
