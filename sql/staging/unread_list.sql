-- unread_list: the stated cells that could not be read, in the order of the files.
-- grain: file_name, sheet, row_number, field
-- reads: unread_cells, source_files
-- columns: file_name VARCHAR, sheet VARCHAR, row_number BIGINT, field VARCHAR, value VARCHAR, reason VARCHAR
SELECT
    file_name,
    sheet,
    row_number,
    field,
    value,
    reason
FROM unread_cells
INNER JOIN source_files USING (file_sha256)
ORDER BY file_name, sheet, row_number, field
