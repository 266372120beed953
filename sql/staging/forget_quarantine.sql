-- forget_quarantine: forget what was kept of one file, to read it again.
-- writes: quarantine
DELETE FROM quarantine
WHERE file_sha256 = $file_sha256
