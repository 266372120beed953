-- ranges: the least and the greatest of the fields that are numbers or days.
-- grain: one row a file or all, and end
-- reads: current_rows
-- binds: file_sha256 (NULL for all files)
-- columns: end_of_range VARCHAR, offered_on DATE, closed_on DATE, sold_on DATE, price_native DECIMAL(18,4), ask_native DECIMAL(18,4), price_paid DECIMAL(18,4), grade DOUBLE, foot_mm INTEGER
WITH file_rows AS (
    SELECT offered_on, closed_on, sold_on, price_native, ask_native, price_paid, grade, foot_mm
    FROM current_rows
    WHERE $file_sha256 IS NULL OR file_sha256 = $file_sha256
)
SELECT 'least' AS end_of_range, min(COLUMNS(*))
FROM file_rows
UNION ALL
SELECT 'greatest', max(COLUMNS(*))
FROM file_rows
