-- forget_stock_lists: forget what was kept of one file, to read it again.
-- writes: stock_lists
DELETE FROM stock_lists
WHERE file_sha256 = $file_sha256
