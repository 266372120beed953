-- reversals: keep the rows of one file that undo a sale or a part of it.
-- grain: sheet, row_number
-- reads: incoming (sheet, row_number, kind, venue, sale_ref, lot_ref, stock_ref, title, reversed_on, currency, amount, pairs)
-- writes: reversals
INSERT INTO reversals BY NAME
SELECT *, $file_sha256 AS file_sha256
FROM incoming
