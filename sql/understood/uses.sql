{% from "macros/use_in_fit.jinja" import use_in_fit %}
-- uses: what becomes of rows in the fit: of how many sales, or why not.
-- grain: use
-- reads: row_records, current_rows, removed_rows, settled_sales, quarantine
-- binds: file_sha256 (NULL for all files)
-- columns: use VARCHAR, row_count BIGINT
-- A sale counts once; its further rows are counted apart.
WITH file_rows AS (
    SELECT record_key, min(row_id) AS row_id, count(*) AS row_count
    FROM row_records
    ANTI JOIN removed_rows ON row_records.row_id = removed_rows.row_id
    WHERE $file_sha256 IS NULL OR file_sha256 = $file_sha256
    GROUP BY record_key
),
settled AS (
    SELECT record_key, status, price_paid, sold_on, silhouette, held_out
    FROM settled_sales
),
single AS (
    SELECT file_rows.record_key, current_rows.status, price_paid, sold_on, silhouette, held_out
    FROM file_rows
    INNER JOIN current_rows ON file_rows.row_id = current_rows.row_id
    WHERE file_rows.record_key NOT IN (SELECT record_key FROM settled)
),
known AS (
    SELECT settled.*
    FROM settled
    WHERE record_key IN (SELECT record_key FROM file_rows)
    UNION ALL
    SELECT * FROM single
),
used AS (
    SELECT {{ use_in_fit() }}
    FROM known
)
SELECT use, count(*) AS row_count
FROM used
GROUP BY use
UNION ALL
SELECT 'another row of the same sale', CAST(sum(row_count - 1) AS BIGINT)
FROM file_rows
HAVING sum(row_count - 1) > 0
UNION ALL
SELECT 'removed', count(*)
FROM row_records
SEMI JOIN removed_rows ON row_records.row_id = removed_rows.row_id
WHERE $file_sha256 IS NULL OR file_sha256 = $file_sha256
HAVING count(*) > 0
UNION ALL
SELECT
    CASE WHEN is_put_aside(field) THEN 'put aside' ELSE 'quarantined' END AS kept_as,
    count(*)
FROM quarantine
WHERE $file_sha256 IS NULL OR file_sha256 = $file_sha256
GROUP BY kept_as
ORDER BY row_count DESC, use
