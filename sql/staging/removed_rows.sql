-- removed_rows: keep which staged rows the owner has removed: those of a record, or of a whole file.
-- grain: row_id
-- reads: rulings, staged_rows, row_keys
-- writes: removed_rows
INSERT INTO removed_rows BY NAME
SELECT staged_rows.row_id
FROM staged_rows
LEFT JOIN row_keys ON staged_rows.row_id = row_keys.row_id
WHERE
    coalesce(row_keys.row_key, staged_rows.node) IN (
        SELECT CAST('0x' || record_id AS UBIGINT) FROM rulings WHERE kind = 'remove' AND field IS NULL
    )
    OR staged_rows.file_sha256 IN (SELECT record_id FROM rulings WHERE kind = 'remove' AND field = 'file')
