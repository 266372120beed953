-- file_rows: every row of one file as the export wrote it, staged or in quarantine.
-- grain: sheet, row_number
-- reads: staged_rows, source_rows, quarantine
-- columns: sheet VARCHAR, row_number BIGINT, cells VARCHAR
-- Of a row that was read before cells were kept there are none.
SELECT staged_rows.sheet, staged_rows.row_number, coalesce(source_rows.cells, '{}') AS cells
FROM staged_rows
LEFT JOIN source_rows ON staged_rows.row_id = source_rows.row_id
WHERE staged_rows.file_sha256 = $file_sha256 AND staged_rows.pair_number = 1
UNION ALL
SELECT sheet, row_number, cells
FROM quarantine
WHERE file_sha256 = $file_sha256
ORDER BY sheet, row_number
