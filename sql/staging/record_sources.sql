-- record_sources: keep which rows of which files each sale comes from.
-- grain: one row a staged row
-- reads: row_records, staged_rows
-- writes: record_sources
INSERT INTO record_sources BY NAME
SELECT record_id, row_key, file_sha256, sheet, row_number
FROM staged_rows
INNER JOIN row_records ON staged_rows.rowid = row_records.row_id
