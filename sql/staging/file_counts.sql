-- file_counts: what came of the rows of one file. Recorded are the sales that no other file has, and the
-- pairs of a stock list.
-- grain: one row
-- reads: source_files, row_records, staged_rows, stock_rows, quarantine
-- columns: rows_read BIGINT, recorded BIGINT, duplicates BIGINT, quarantined BIGINT, put_aside BIGINT, further_pairs BIGINT
WITH own AS (
    SELECT record_key, count(*) AS row_count
    FROM row_records
    WHERE file_sha256 = $file_sha256
    GROUP BY record_key
),
shared AS (
    SELECT record_key
    FROM row_records
    WHERE file_sha256 <> $file_sha256
),
counted AS (
    SELECT
        coalesce(sum(row_count), 0) AS staged,
        count(*) FILTER (record_key NOT IN (FROM shared)) AS new_sales
    FROM own
),
stock AS (
    SELECT count(*) AS pairs
    FROM stock_rows
    WHERE file_sha256 = $file_sha256
)
SELECT
    (SELECT rows_read FROM source_files WHERE file_sha256 = $file_sha256) AS rows_read,
    new_sales + pairs AS recorded,
    CAST(staged - new_sales AS BIGINT) AS duplicates,
    (SELECT count(*) FROM quarantine WHERE file_sha256 = $file_sha256 AND NOT is_put_aside(field)) AS quarantined,
    (SELECT count(*) FROM quarantine WHERE file_sha256 = $file_sha256 AND is_put_aside(field)) AS put_aside,
    (SELECT count(*) FROM staged_rows WHERE file_sha256 = $file_sha256 AND pair_number > 1) AS further_pairs
FROM counted, stock
