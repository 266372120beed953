-- decided_places: where the rows stand that decisions are about, with the keys that they have now.
-- grain: file_sha256, sheet, row_number, pair_number
-- reads: rulings, staged_rows, row_keys
-- columns: file_sha256 VARCHAR, sheet VARCHAR, row_number BIGINT, pair_number INTEGER, row_key VARCHAR
WITH decided AS (
    SELECT CAST('0x' || record_id AS UBIGINT) AS row_key FROM rulings WHERE field IS NULL OR field <> 'file'
    UNION
    SELECT CAST('0x' || other_id AS UBIGINT) FROM rulings WHERE other_id IS NOT NULL
)
SELECT
    staged_rows.file_sha256,
    staged_rows.sheet,
    staged_rows.row_number,
    staged_rows.pair_number,
    format('{:016x}', coalesce(row_keys.row_key, staged_rows.node)) AS row_key
FROM staged_rows
LEFT JOIN row_keys ON staged_rows.row_id = row_keys.row_id
WHERE coalesce(row_keys.row_key, staged_rows.node) IN (FROM decided)
