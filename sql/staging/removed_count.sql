-- removed_count: how many rows of one file the owner has removed; one row.
-- grain: removed
-- reads: removed_rows, staged_rows
-- columns: removed BIGINT
SELECT count(*) AS removed
FROM removed_rows
INNER JOIN staged_rows ON removed_rows.row_id = staged_rows.row_id
WHERE file_sha256 = $file_sha256
