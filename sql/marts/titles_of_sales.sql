-- titles_of_sales: the titles of some sales.
-- grain: record_id
-- reads: sales, incoming (record_id)
-- columns: record_id VARCHAR, title VARCHAR
SELECT
    record_id,
    coalesce(title, '') AS title
FROM sales
SEMI JOIN incoming USING (record_id)
ORDER BY record_id
