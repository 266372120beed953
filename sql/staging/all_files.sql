-- all_files: the files in the ledger, exports and stock lists, and the sales added by hand.
-- grain: file_sha256
-- reads: source_files
-- columns: file_sha256 VARCHAR, file_name VARCHAR
SELECT file_sha256, file_name
FROM source_files
ORDER BY run_id, file_name, file_sha256
