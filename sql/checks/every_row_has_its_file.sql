-- every_row_has_its_file: the rows of files that are not among the files read.
-- grain: relation, file_sha256
-- reads: staged_rows, quarantine, unread_cells, stock_rows, stock_lists, source_files
-- columns: relation VARCHAR, file_sha256 VARCHAR
WITH stated AS (
    SELECT DISTINCT 'staged_rows' AS relation, file_sha256 FROM staged_rows
    UNION ALL
    SELECT DISTINCT 'quarantine', file_sha256 FROM quarantine
    UNION ALL
    SELECT DISTINCT 'unread_cells', file_sha256 FROM unread_cells
    UNION ALL
    SELECT DISTINCT 'stock_rows', file_sha256 FROM stock_rows
    UNION ALL
    SELECT DISTINCT 'stock_lists', file_sha256 FROM stock_lists
)
SELECT relation, file_sha256
FROM stated
WHERE file_sha256 NOT IN (SELECT file_sha256 FROM source_files)
