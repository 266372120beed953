-- removed_rows: keep which staged rows the owner has removed: those of a record, or of a whole file.
-- grain: row_id
-- reads: rulings, keyed_rows
-- writes: removed_rows
INSERT INTO removed_rows BY NAME
SELECT row_id
FROM keyed_rows
WHERE
    row_key IN (
        SELECT CAST('0x' || record_id AS UBIGINT) FROM rulings WHERE kind = 'remove' AND field IS NULL
    )
    OR file_sha256 IN (SELECT record_id FROM rulings WHERE kind = 'remove' AND field = 'file')
