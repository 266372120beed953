-- forget_reversals: forget what was kept of one file, to read it again.
-- writes: reversals
DELETE FROM reversals
WHERE file_sha256 = $file_sha256
