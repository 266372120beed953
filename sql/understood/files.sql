-- files: the files that were read, in the order in which they were.
-- grain: file_sha256
-- reads: source_files
-- columns: file_sha256 VARCHAR, file_name VARCHAR, rows_read BIGINT
SELECT file_sha256, file_name, rows_read
FROM source_files
ORDER BY run_id, file_name, file_sha256
