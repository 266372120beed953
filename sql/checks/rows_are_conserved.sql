-- rows_are_conserved: the files of which not every row read is staged, a pair of the stock, or in quarantine.
-- grain: file_sha256
-- reads: source_files, staged_rows, stock_rows, quarantine
-- columns: file_sha256 VARCHAR, file_name VARCHAR, rows_read BIGINT, staged BIGINT, quarantined BIGINT
WITH staged AS (
    SELECT file_sha256, count(*) AS staged
    FROM (
        SELECT file_sha256 FROM staged_rows WHERE pair_number = 1
        UNION ALL
        SELECT file_sha256 FROM stock_rows
    )
    GROUP BY file_sha256
),
refused AS (
    SELECT file_sha256, count(*) AS quarantined FROM quarantine GROUP BY file_sha256
)
SELECT
    source_files.file_sha256,
    file_name,
    rows_read,
    coalesce(staged, 0) AS staged,
    coalesce(quarantined, 0) AS quarantined
FROM source_files
LEFT JOIN staged ON source_files.file_sha256 = staged.file_sha256
LEFT JOIN refused ON source_files.file_sha256 = refused.file_sha256
WHERE rows_read <> coalesce(staged, 0) + coalesce(quarantined, 0)
