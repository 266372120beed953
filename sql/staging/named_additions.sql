-- named_additions: let each decision to add a sale name the row that was made of it.
-- reads: staged_rows, row_keys
-- writes: rulings
UPDATE rulings SET record_id = added.row_key
FROM (
    SELECT
        staged_rows.row_number,
        format('{:016x}', coalesce(row_keys.row_key, staged_rows.node)) AS row_key
    FROM staged_rows
    LEFT JOIN row_keys ON staged_rows.row_id = row_keys.row_id
    WHERE staged_rows.file_sha256 = 'by hand'
) AS added
WHERE rulings.kind = 'add' AND rulings.ruling_number = added.row_number
