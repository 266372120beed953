-- forget_stock_rows: forget what was kept of one file, to read it again.
-- writes: stock_rows
DELETE FROM stock_rows
WHERE file_sha256 = $file_sha256
