-- sample: rows that show how differently rows were read, each as it was read: the first of each of the most
-- frequent ways, then the second of each.
-- grain: row_id
-- reads: current_rows, source_files, source_rows
-- binds: file_sha256 (NULL for all files)
-- columns: row_id BIGINT, file_name VARCHAR, sheet VARCHAR, row_number BIGINT, record VARCHAR, cells VARCHAR
-- A way is the status with which attributes were stated, taken from the title or not known, and whether anything is odd.
WITH ways AS (
    SELECT min(row_id, 10) AS rows, count(*) AS row_count
    FROM current_rows
    WHERE $file_sha256 IS NULL OR file_sha256 = $file_sha256
    GROUP BY
        status,
        silhouette_origin,
        colourway_origin,
        era_origin,
        size_label_origin,
        grade_origin,
        box_origin,
        defects_origin,
        treatments_origin,
        len(flags) > 0
),
turns AS (
    SELECT unnest(rows) AS row_id, generate_subscripts(rows, 1) AS turn, row_count
    FROM ways
),
chosen AS (
    SELECT row_id
    FROM turns
    ORDER BY turn, row_count DESC, row_id
    LIMIT 10
),
written AS (
    SELECT row_id, cells
    FROM source_rows
    WHERE row_id IN (FROM chosen)
)
SELECT
    current_rows.row_id,
    file_name,
    sheet,
    row_number,
    CAST(to_json(current_rows) AS VARCHAR) AS record,
    cells
FROM current_rows
INNER JOIN source_files ON current_rows.file_sha256 = source_files.file_sha256
LEFT JOIN written ON current_rows.row_id = written.row_id
WHERE current_rows.row_id IN (FROM chosen)
ORDER BY file_name, sheet, row_number
