-- lists_of_file: the stock lists of one name that count, with the pairs in each.
-- grain: listed_on, map_name
-- reads: counting_lists, source_files, stock_rows
-- binds: file_name
-- columns: listed_on DATE, map_name VARCHAR, pairs BIGINT
SELECT
    counting_lists.listed_on,
    counting_lists.map_name,
    (SELECT count(*) FROM stock_rows WHERE stock_rows.file_sha256 = counting_lists.file_sha256) AS pairs
FROM counting_lists
INNER JOIN source_files ON counting_lists.file_sha256 = source_files.file_sha256
WHERE source_files.file_name = $file_name
ORDER BY counting_lists.listed_on, counting_lists.map_name
