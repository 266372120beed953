-- forget_staged_rows: forget what was kept of one file, to read it again.
-- writes: staged_rows
DELETE FROM staged_rows
WHERE file_sha256 = $file_sha256
