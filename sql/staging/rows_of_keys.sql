-- rows_of_keys: the staged rows that keys are of, with their cells and what was read of them, as JSON.
-- grain: row_id
-- reads: incoming (row_key), keyed_rows, source_rows, source_files
-- columns: row_id BIGINT, row_key VARCHAR, file_name VARCHAR, map_name VARCHAR, sheet VARCHAR, row_number BIGINT, pair_number INTEGER, headings VARCHAR[], cells VARCHAR, record VARCHAR
WITH wanted AS (
    SELECT DISTINCT CAST('0x' || row_key AS UBIGINT) AS row_key
    FROM incoming
),
found AS MATERIALIZED (
    SELECT row_id
    FROM keyed_rows
    WHERE row_key IN (FROM wanted)
),
kept_cells AS (
    SELECT row_id, cells
    FROM source_rows
    WHERE row_id IN (FROM found)
)
SELECT
    keyed_rows.row_id,
    format('{:016x}', keyed_rows.row_key) AS row_key,
    source_files.file_name,
    source_files.map_name,
    keyed_rows.sheet,
    keyed_rows.row_number,
    keyed_rows.pair_number,
    json_keys(kept_cells.cells) AS headings,
    kept_cells.cells,
    CAST(to_json(keyed_rows) AS VARCHAR) AS record
FROM keyed_rows
LEFT JOIN kept_cells ON keyed_rows.row_id = kept_cells.row_id
INNER JOIN source_files ON keyed_rows.file_sha256 = source_files.file_sha256
WHERE keyed_rows.row_id IN (FROM found)
ORDER BY keyed_rows.row_id
