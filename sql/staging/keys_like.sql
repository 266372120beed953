-- keys_like: the keys of current rows that begin so, with the records that they are of and what those are.
-- grain: row_key
-- reads: record_sources, sales
-- binds: beginning
-- columns: row_key VARCHAR, record_id VARCHAR, day DATE, title VARCHAR
WITH alike AS (
    SELECT DISTINCT row_key, record_id
    FROM record_sources
    WHERE starts_with(row_key, $beginning)
)
SELECT
    row_key,
    alike.record_id,
    coalesce(sold_on, closed_on, offered_on) AS day,
    title
FROM alike
INNER JOIN sales ON alike.record_id = sales.record_id
ORDER BY row_key
