-- unread_cells: keep the stated cells of one file that could not be read.
-- grain: file_sha256, sheet, row_number, field
-- reads: incoming (sheet, row_number, field, value, reason)
-- writes: unread_cells
INSERT INTO unread_cells BY NAME
SELECT
    $file_sha256 AS file_sha256,
    sheet,
    row_number,
    field,
    value,
    reason
FROM incoming
