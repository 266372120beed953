-- removed_list: the rows that the owner has removed, in the order of the files.
-- grain: row_id
-- reads: removed_rows, staged_rows, row_keys, source_files
-- columns: row_id BIGINT, row_key VARCHAR, file_name VARCHAR, sheet VARCHAR, row_number BIGINT, day DATE, venue VARCHAR, title VARCHAR, price_paid DECIMAL(18,4)
SELECT
    staged_rows.row_id,
    format('{:016x}', coalesce(row_keys.row_key, staged_rows.node)) AS row_key,
    file_name,
    sheet,
    row_number,
    coalesce(sold_on, closed_on, offered_on) AS day,
    venue,
    title,
    price_paid
FROM removed_rows
INNER JOIN staged_rows ON removed_rows.row_id = staged_rows.row_id
INNER JOIN source_files ON staged_rows.file_sha256 = source_files.file_sha256
LEFT JOIN row_keys ON staged_rows.row_id = row_keys.row_id
ORDER BY file_name, sheet, row_number
