-- removed_list: the rows that the owner has removed, in the order of the files.
-- grain: row_id
-- reads: removed_rows, keyed_rows, source_files
-- columns: row_id BIGINT, row_key VARCHAR, file_name VARCHAR, sheet VARCHAR, row_number BIGINT, day DATE, venue VARCHAR, title VARCHAR, price_paid DECIMAL(18,4)
SELECT
    keyed_rows.row_id,
    format('{:016x}', row_key) AS row_key,
    file_name,
    sheet,
    row_number,
    coalesce(sold_on, closed_on, offered_on) AS day,
    venue,
    title,
    price_paid
FROM removed_rows
INNER JOIN keyed_rows ON removed_rows.row_id = keyed_rows.row_id
INNER JOIN source_files ON keyed_rows.file_sha256 = source_files.file_sha256
ORDER BY file_name, sheet, row_number
