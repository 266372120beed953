-- move_stock_lists: let the days of one stock list be those of the map that it is read by now.
-- grain: file_sha256, map_name, listed_on
-- reads: stock_lists
-- writes: stock_lists
UPDATE stock_lists
SET map_name = $map_name
WHERE
    file_sha256 = $file_sha256
    AND map_name <> $map_name
    AND listed_on NOT IN (
        SELECT listed_on FROM stock_lists WHERE file_sha256 = $file_sha256 AND map_name = $map_name
    )
