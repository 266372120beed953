-- last_done: what was done to the ledger last: a file read, decisions made together, a fit; the latest first.
-- grain: done_at, kind, what
-- reads: runs, run_files, rulings, fits_made
-- columns: done_at TIMESTAMP, kind VARCHAR, what VARCHAR, counted BIGINT
-- Of a file, `counted` is its rows; of decisions, how many there are.
WITH files AS (
    SELECT loaded_at AS done_at, 'read' AS kind, file_name AS what, rows_read AS counted
    FROM run_files
    INNER JOIN runs USING (run_id)
    WHERE file_sha256 <> 'by hand'
    ORDER BY done_at DESC
    LIMIT $most
),
decisions AS (
    SELECT ruled_at AS done_at, 'decided' AS kind, any_value(kind) AS what, count(*) AS counted
    FROM rulings
    GROUP BY ruled_at, ruling_number
    ORDER BY done_at DESC
    LIMIT $most
),
fits AS (
    SELECT fitted_at AS done_at, 'fitted' AS kind, fit_id AS what, 0 AS counted
    FROM fits_made
    ORDER BY fit_number DESC
    LIMIT $most
)
SELECT done_at, kind, what, counted
FROM (FROM files UNION ALL FROM decisions UNION ALL FROM fits)
ORDER BY done_at DESC, kind, what
LIMIT $most
