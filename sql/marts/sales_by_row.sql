-- sales_by_row: the sales in the order of the first rows that tell of them.
-- grain: record_id
-- reads: sales, record_sources
-- columns: those of a sale record (pipeline/schema.py)
WITH first_rows AS (
    SELECT record_id, min((sheet, row_number)) AS place
    FROM record_sources
    GROUP BY record_id
)
SELECT sales.*
FROM sales
INNER JOIN first_rows ON sales.record_id = first_rows.record_id
ORDER BY place
