-- quarantine_list: the rows in quarantine, in the order of the files.
-- grain: file_name, sheet, row_number
-- reads: quarantine, reversals
-- columns: file_name VARCHAR, sheet VARCHAR, row_number BIGINT, field VARCHAR, value VARCHAR, reason VARCHAR, cells VARCHAR
SELECT
    file_name,
    quarantine.sheet,
    quarantine.row_number,
    field,
    value,
    undone_reason(reason, field, record_key) AS reason,
    cells
FROM quarantine
LEFT JOIN reversals
    ON
        quarantine.file_sha256 = reversals.file_sha256
        AND quarantine.sheet = reversals.sheet
        AND quarantine.row_number = reversals.row_number
ORDER BY file_name, quarantine.sheet, quarantine.row_number
