-- every_row_has_one_sale: the current rows that do not belong to exactly one sale, and sales without a row.
-- grain: fault, record_id
-- reads: current_rows, record_sources, sales
-- columns: fault VARCHAR, record_id VARCHAR
SELECT 'rows and sources differ in number' AS fault, CAST(NULL AS VARCHAR) AS record_id
WHERE (SELECT count(*) FROM current_rows) <> (SELECT count(*) FROM record_sources)
UNION ALL
SELECT 'source without a sale', record_id
FROM record_sources
WHERE record_id NOT IN (SELECT record_id FROM sales)
UNION ALL
SELECT 'sale without a source', record_id
FROM sales
WHERE record_id NOT IN (SELECT record_id FROM record_sources)
