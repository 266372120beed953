-- known_file: what was kept of one file when it was last read.
-- grain: file_sha256
-- reads: source_files
-- columns: file_name VARCHAR, reading_digest VARCHAR, rows_read BIGINT
SELECT file_name, reading_digest, rows_read
FROM source_files
WHERE file_sha256 = $file_sha256
