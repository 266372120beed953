-- read_files: the files in the ledger that were exports, each with the map that it was read by and the digest of what decided that.
-- grain: file_sha256
-- reads: source_files
-- columns: file_sha256 VARCHAR, file_name VARCHAR, map_name VARCHAR, reading_digest VARCHAR
SELECT file_sha256, file_name, map_name, reading_digest
FROM source_files
WHERE file_sha256 <> 'by hand'
ORDER BY file_name, file_sha256
