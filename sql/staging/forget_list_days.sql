-- forget_list_days: forget that a stock list is of a day, and of a day that nobody said, before it is kept for that day.
-- writes: stock_lists
DELETE FROM stock_lists
WHERE file_sha256 = $file_sha256 AND map_name = $map_name AND (listed_on = $listed_on OR NOT is_said)
