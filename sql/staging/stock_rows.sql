-- stock_rows: keep the pairs of one stock list.
-- grain: file_sha256, sheet, row_number
-- reads: incoming (sheet, row_number, the columns of a sale record that one row can state, and those of a stock list)
-- writes: stock_rows
INSERT INTO stock_rows BY NAME
SELECT
    *,
    $file_sha256 AS file_sha256
FROM incoming
