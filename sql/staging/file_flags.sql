-- file_flags: how many sales of a file carry each flag.
-- grain: flag
-- reads: row_records, current_rows, settled_sales, settled_rows
-- columns: flag VARCHAR, sale_count BIGINT
WITH flagged AS (
    SELECT node AS record_key, unnest(flags) AS flag
    FROM current_rows
    WHERE
        file_sha256 = $file_sha256
        AND len(flags) > 0
        AND row_id NOT IN (SELECT row_id FROM settled_rows)
    UNION
    SELECT record_key, unnest(flags)
    FROM settled_sales
    WHERE record_key IN (SELECT record_key FROM row_records WHERE file_sha256 = $file_sha256)
)
SELECT flag, count(*) AS sale_count
FROM flagged
GROUP BY flag
ORDER BY flag
