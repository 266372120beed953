-- settled_rows: keep the rows whose sale is not simply themselves.
-- grain: row_id
-- reads: row_sales, said_of_sales
-- writes: settled_rows
INSERT INTO settled_rows BY NAME
WITH records AS (
    SELECT record_key FROM row_sales GROUP BY record_key HAVING count(*) > 1
    UNION
    SELECT record_key FROM row_sales WHERE NOT is_plain
    UNION
    SELECT record_key FROM said_of_sales
)
SELECT row_id, row_key, record_key
FROM row_sales
WHERE record_key IN (FROM records)
