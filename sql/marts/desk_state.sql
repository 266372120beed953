-- desk_state: how much the ledger holds, and of how many files; one row.
-- grain: desk_state
-- reads: sales, source_files
-- columns: records BIGINT, files BIGINT
SELECT
    (SELECT count(*) FROM sales) AS records,
    (SELECT count(*) FROM source_files WHERE file_sha256 <> 'by hand') AS files
