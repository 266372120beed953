-- reasons: why rows of one file are in quarantine, or cells of it were not read, with the first of each.
-- grain: kind, field, reason
-- reads: quarantine, reversals, unread_cells
-- columns: kind VARCHAR, field VARCHAR, reason VARCHAR, row_count BIGINT, sheet VARCHAR, row_number BIGINT, value VARCHAR
WITH stated AS (
    SELECT
        CASE WHEN is_put_aside(field) THEN 'put aside' ELSE 'quarantined' END AS kind,
        field,
        undone_reason(reason, field, record_key) AS reason,
        quarantine.sheet,
        quarantine.row_number,
        value
    FROM quarantine
    LEFT JOIN reversals
        ON
            quarantine.file_sha256 = reversals.file_sha256
            AND quarantine.sheet = reversals.sheet
            AND quarantine.row_number = reversals.row_number
    WHERE quarantine.file_sha256 = $file_sha256
    UNION ALL
    SELECT 'not read', field, reason, sheet, row_number, value
    FROM unread_cells
    WHERE file_sha256 = $file_sha256
)
SELECT
    kind,
    field,
    reason,
    count(*) AS row_count,
    arg_min(sheet, (sheet, row_number)) AS sheet,
    arg_min(row_number, (sheet, row_number)) AS row_number,
    arg_min(value, (sheet, row_number)) AS value
FROM stated
GROUP BY kind, field, reason
ORDER BY kind DESC, row_count DESC, field, reason
