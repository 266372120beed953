-- files: the exports of sales that were read, in the order in which they were.
-- grain: file_sha256
-- reads: source_files, stock_lists
-- columns: file_sha256 VARCHAR, file_name VARCHAR, rows_read BIGINT
SELECT file_sha256, file_name, rows_read
FROM source_files
WHERE file_sha256 NOT IN (SELECT file_sha256 FROM stock_lists)
ORDER BY run_id, file_name, file_sha256
