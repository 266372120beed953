-- files_known: what the ledger knows a file by that it has read: its name, and its size.
-- grain: file_name, size_bytes
-- reads: source_files
-- columns: file_name VARCHAR, size_bytes BIGINT
SELECT DISTINCT file_name, size_bytes
FROM source_files
ORDER BY file_name, size_bytes
