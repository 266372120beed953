-- last_counts: what came of the rows of one file when it was last read.
-- grain: one row
-- reads: run_files
-- columns: rows_read BIGINT, recorded BIGINT, duplicates BIGINT, quarantined BIGINT, put_aside BIGINT, further_pairs BIGINT
SELECT rows_read, recorded, duplicates, quarantined, put_aside, further_pairs
FROM run_files
WHERE file_sha256 = $file_sha256
ORDER BY run_id DESC
LIMIT 1
