-- keys_of_records: the keys of the rows that records are made of.
-- grain: record_id, row_key
-- reads: incoming (record_id), current_rows, settled_rows
-- columns: record_id VARCHAR, row_key VARCHAR
WITH keyed AS (
    SELECT
        coalesce(settled_rows.record_key, current_rows.node) AS record_key,
        coalesce(settled_rows.row_key, current_rows.node) AS row_key
    FROM current_rows
    LEFT JOIN settled_rows ON current_rows.row_id = settled_rows.row_id
)
SELECT DISTINCT
    format('{:016x}', record_key) AS record_id,
    format('{:016x}', row_key) AS row_key
FROM keyed
WHERE record_key IN (SELECT TRY_CAST('0x' || incoming.record_id AS UBIGINT) FROM incoming)
ORDER BY ALL
