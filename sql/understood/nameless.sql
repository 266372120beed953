-- nameless: the titles in which no silhouette was found, of rows that no column names one for.
-- grain: title
-- reads: current_rows
-- binds: file_sha256 (NULL for all files)
-- columns: title VARCHAR, row_count BIGINT
SELECT title, count(*) AS row_count
FROM current_rows
WHERE silhouette IS NULL
  AND title IS NOT NULL
  AND ($file_sha256 IS NULL OR file_sha256 = $file_sha256)
GROUP BY title
ORDER BY row_count DESC, title
