-- stock_lists: keep that a stock list is of a day, as the last that was read.
-- grain: file_sha256, map_name, listed_on
-- reads: stock_lists
-- writes: stock_lists
INSERT INTO stock_lists BY NAME
SELECT
    $file_sha256 AS file_sha256,
    $map_name AS map_name,
    $listed_on AS listed_on,
    $is_said AS is_said,
    coalesce(max(reading_number), 0) + 1 AS reading_number
FROM stock_lists
