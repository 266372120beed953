-- forget_source_rows: forget what was kept of the rows of one file, to read it again.
-- reads: staged_rows
-- writes: source_rows
DELETE FROM source_rows
WHERE row_id IN (SELECT row_id FROM staged_rows WHERE file_sha256 = $file_sha256)
