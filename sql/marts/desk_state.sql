-- desk_state: how much the ledger holds, of how many files, and how many rows could not be read; one row.
-- grain: desk_state
-- reads: sales, quarantine, source_files
-- columns: records BIGINT, quarantined BIGINT, files BIGINT
SELECT
    (SELECT count(*) FROM sales) AS records,
    (SELECT count(*) FROM quarantine WHERE NOT is_put_aside(field)) AS quarantined,
    (SELECT count(*) FROM source_files WHERE file_sha256 <> 'by hand') AS files
