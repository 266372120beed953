-- quarantine_list: the rows in quarantine, in the order of the files.
-- grain: file_name, sheet, row_number
-- reads: quarantine
-- columns: file_name VARCHAR, sheet VARCHAR, row_number BIGINT, field VARCHAR, value VARCHAR, reason VARCHAR, cells VARCHAR
SELECT
    file_name,
    sheet,
    row_number,
    field,
    value,
    reason,
    cells
FROM quarantine
ORDER BY file_name, sheet, row_number
