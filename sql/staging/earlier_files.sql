-- earlier_files: the files in the ledger that were read by one map, but for one content.
-- grain: file_sha256
-- reads: source_files, runs
-- columns: file_sha256 VARCHAR, file_name VARCHAR, rows_read BIGINT, read_at TIMESTAMP
SELECT
    source_files.file_sha256,
    source_files.file_name,
    source_files.rows_read,
    runs.loaded_at AS read_at
FROM source_files
LEFT JOIN runs ON source_files.run_id = runs.run_id
WHERE source_files.map_name = $map_name AND source_files.file_sha256 <> $file_sha256
ORDER BY source_files.run_id, source_files.file_name, source_files.file_sha256
