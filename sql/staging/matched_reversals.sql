-- matched_reversals: the sale that each reversal undoes, where there is one.
-- grain: file_sha256, sheet, row_number
-- reads: reversals, current_rows, row_sales
-- columns: file_sha256 VARCHAR, sheet VARCHAR, row_number BIGINT, record_key UBIGINT
-- It is the sale at the same venue with the same number, on that day or before; of several the one of the same title,
-- then of the same amount, and of several sales of one stock number the last. A lot number alone needs the title as
-- well, where both say one. Without a number in common it is the one sale of the same title and amount within 90 days
-- before.
CREATE OR REPLACE TEMP TABLE matched_reversals AS
WITH sold AS (
    SELECT
        row_sales.record_key,
        current_rows.venue,
        current_rows.sale_ref,
        current_rows.lot_ref,
        current_rows.stock_ref,
        current_rows.title,
        current_rows.sold_on,
        current_rows.currency,
        current_rows.price_native,
        current_rows.all_in_native
    FROM current_rows
    INNER JOIN row_sales ON current_rows.row_id = row_sales.row_id
    WHERE current_rows.status = 'sold' AND EXISTS (FROM reversals)
),
linked AS (
    SELECT one, other
    FROM reversals AS one
    INNER JOIN sold AS other ON one.venue = other.venue AND one.sale_ref = other.sale_ref
    UNION
    SELECT one, other
    FROM reversals AS one
    INNER JOIN sold AS other ON one.venue = other.venue AND one.lot_ref = other.lot_ref
    UNION
    SELECT one, other
    FROM reversals AS one
    INNER JOIN sold AS other ON one.venue = other.venue AND one.stock_ref = other.stock_ref
    UNION
    SELECT one, other
    FROM reversals AS one
    INNER JOIN sold AS other ON one.venue = other.venue AND one.title = other.title
    WHERE
        one.currency = other.currency
        AND (one.amount = other.price_native OR one.amount = other.all_in_native)
        AND one.reversed_on - other.sold_on <= 90
),
compared AS (
    SELECT
        one.file_sha256,
        one.sheet,
        one.row_number,
        other.record_key,
        other.sold_on,
        coalesce(one.sale_ref = other.sale_ref OR one.stock_ref = other.stock_ref, FALSE) AS has_number,
        coalesce(one.stock_ref = other.stock_ref, FALSE) AS has_stock_number,
        coalesce(one.title = other.title, FALSE) AS has_title,
        coalesce(one.amount = other.price_native OR one.amount = other.all_in_native, FALSE) AS has_amount,
        one.title IS NULL OR other.title IS NULL AS is_untitled
    FROM linked
    WHERE
        coalesce(other.sold_on <= one.reversed_on, TRUE)
        AND coalesce(one.sale_ref = other.sale_ref, TRUE)
        AND coalesce(one.lot_ref = other.lot_ref, TRUE)
        AND coalesce(one.stock_ref = other.stock_ref, TRUE)
        AND coalesce(one.currency = other.currency, TRUE)
),
best AS (
    SELECT *
    FROM compared
    WHERE has_number OR has_title OR is_untitled
    QUALIFY rank() OVER (
        PARTITION BY file_sha256, sheet, row_number
        ORDER BY
            has_number DESC,
            has_title DESC,
            has_amount DESC,
            CASE WHEN has_stock_number THEN sold_on END DESC NULLS LAST
    ) = 1
)
SELECT file_sha256, sheet, row_number, min(record_key) AS record_key
FROM best
GROUP BY file_sha256, sheet, row_number
HAVING count(DISTINCT record_key) = 1
