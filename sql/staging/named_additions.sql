-- named_additions: let each decision to add a sale name the row that was made of it.
-- reads: keyed_rows
-- writes: rulings
UPDATE rulings SET record_id = format('{:016x}', added.row_key)
FROM keyed_rows AS added
WHERE added.file_sha256 = 'by hand' AND rulings.kind = 'add' AND rulings.ruling_number = added.row_number
