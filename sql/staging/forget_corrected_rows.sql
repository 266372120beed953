-- forget_corrected_rows: forget what was kept of the rows of one file, to read it again.
-- reads: staged_rows
-- writes: corrected_rows
DELETE FROM corrected_rows
WHERE row_id IN (SELECT row_id FROM staged_rows WHERE file_sha256 = $file_sha256)
