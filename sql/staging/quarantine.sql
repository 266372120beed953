-- quarantine: keep the rows of one file that cannot be sale records.
-- grain: one row of one sheet of one file
-- reads: incoming (sheet, row_number, field, value, reason, cells)
-- writes: quarantine
INSERT INTO quarantine BY NAME
SELECT
    $file_sha256 AS file_sha256,
    $file_name AS file_name,
    sheet,
    row_number,
    field,
    value,
    reason,
    cells
FROM incoming
