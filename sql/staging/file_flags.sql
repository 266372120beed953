-- file_flags: how many sales that a file tells of carry each flag.
-- grain: flag
-- reads: sales, record_sources
-- columns: flag VARCHAR, sale_count BIGINT
WITH flagged AS (
    SELECT DISTINCT sales.record_id, unnest(flags) AS flag
    FROM sales
    INNER JOIN record_sources USING (record_id)
    WHERE file_sha256 = $file_sha256
)
SELECT flag, count(*) AS sale_count
FROM flagged
GROUP BY flag
ORDER BY flag
