{% from "macros/listed.jinja" import listed_columns %}
-- listed_pairs: the pairs of every stock list up to a day, each with the cells of it that could not be read.
-- grain: map_name, listed_on, sheet, row_number
-- reads: stock_listings, unread_cells
-- binds: as_of, numbers (stock numbers, NULL for all)
-- columns: map_name VARCHAR, listed_on DATE, file_name VARCHAR, sheet VARCHAR, row_number BIGINT, {{ listed_columns() }}, unread STRUCT(field VARCHAR, "value" VARCHAR, reason VARCHAR)[]
WITH cells AS (
    SELECT
        file_sha256,
        sheet,
        row_number,
        list({'field': field, 'value': value, 'reason': reason} ORDER BY field) AS unread
    FROM unread_cells
    GROUP BY file_sha256, sheet, row_number
)
SELECT
    stock_listings.* EXCLUDE (file_sha256),
    coalesce(cells.unread, []) AS unread
FROM stock_listings
LEFT JOIN cells
    ON
        stock_listings.file_sha256 = cells.file_sha256
        AND stock_listings.sheet = cells.sheet
        AND stock_listings.row_number = cells.row_number
WHERE
    listed_on <= CAST($as_of AS DATE)
    AND ($numbers IS NULL OR stock_ref IN (SELECT unnest(CAST($numbers AS VARCHAR[]))))
ORDER BY map_name, listed_on, stock_listings.sheet, stock_listings.row_number
