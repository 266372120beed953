-- decided_places: where the rows stand that decisions are about, with the keys that they have now.
-- grain: file_sha256, sheet, row_number, pair_number
-- reads: rulings, keyed_rows
-- columns: file_sha256 VARCHAR, sheet VARCHAR, row_number BIGINT, pair_number INTEGER, row_key VARCHAR
WITH decided AS (
    SELECT CAST('0x' || record_id AS UBIGINT) AS row_key FROM rulings WHERE field IS NULL OR field <> 'file'
    UNION
    SELECT CAST('0x' || other_id AS UBIGINT) FROM rulings WHERE other_id IS NOT NULL
)
SELECT
    file_sha256,
    sheet,
    row_number,
    pair_number,
    format('{:016x}', row_key) AS row_key
FROM keyed_rows
WHERE keyed_rows.row_key IN (FROM decided)
