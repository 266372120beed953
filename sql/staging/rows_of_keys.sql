-- rows_of_keys: the staged rows that keys are of, with their cells and what was read of them, as JSON.
-- grain: row_id
-- reads: incoming (row_key), staged_rows, row_keys, source_rows, source_files
-- columns: row_id BIGINT, row_key VARCHAR, file_name VARCHAR, map_name VARCHAR, sheet VARCHAR, row_number BIGINT, pair_number INTEGER, headings VARCHAR[], cells VARCHAR, record VARCHAR
WITH wanted AS (
    SELECT DISTINCT CAST('0x' || row_key AS UBIGINT) AS row_key
    FROM incoming
)
SELECT
    staged_rows.row_id,
    format('{:016x}', coalesce(row_keys.row_key, staged_rows.node)) AS row_key,
    source_files.file_name,
    source_files.map_name,
    staged_rows.sheet,
    staged_rows.row_number,
    staged_rows.pair_number,
    json_keys(source_rows.cells) AS headings,
    source_rows.cells,
    CAST(to_json(staged_rows) AS VARCHAR) AS record
FROM staged_rows
LEFT JOIN row_keys ON staged_rows.row_id = row_keys.row_id
LEFT JOIN source_rows ON staged_rows.row_id = source_rows.row_id
INNER JOIN source_files ON staged_rows.file_sha256 = source_files.file_sha256
WHERE coalesce(row_keys.row_key, staged_rows.node) IN (FROM wanted)
ORDER BY staged_rows.row_id
