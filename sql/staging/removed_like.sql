-- removed_like: the rows that the owner has removed whose keys begin so, with the decision that removed each.
-- grain: row_id, decision_id
-- reads: removed_rows, keyed_rows, rulings
-- binds: beginning
-- columns: row_key VARCHAR, day DATE, title VARCHAR, decision_id VARCHAR, decided_at TIMESTAMP, note VARCHAR, file_name VARCHAR
-- file_name is that of a file which was removed as a whole.
WITH removed AS (
    SELECT
        keyed_rows.row_id,
        format('{:016x}', row_key) AS row_key,
        file_sha256,
        coalesce(sold_on, closed_on, offered_on) AS day,
        title
    FROM removed_rows
    INNER JOIN keyed_rows ON removed_rows.row_id = keyed_rows.row_id
    WHERE starts_with(format('{:016x}', row_key), $beginning)
)
SELECT
    row_key,
    day,
    title,
    ruling_id AS decision_id,
    ruled_at AS decided_at,
    note,
    CASE WHEN field = 'file' THEN value END AS file_name
FROM removed
INNER JOIN rulings
    ON
        kind = 'remove'
        AND CASE WHEN field = 'file' THEN record_id = file_sha256 ELSE record_id = row_key END
ORDER BY row_id, ruling_number
