-- forget_source_files: forget what was kept of one file, to read it again.
-- writes: source_files
DELETE FROM source_files
WHERE file_sha256 = $file_sha256
