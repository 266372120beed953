-- matched_reversals: the sale that each reversal undoes, where there is one: of a line of several pairs all of its sales,
-- in the order of the pairs, with the price of one.
-- grain: file_sha256, sheet, row_number
-- reads: reversals, current_rows, row_sales
-- columns: file_sha256 VARCHAR, sheet VARCHAR, row_number BIGINT, record_keys UBIGINT[], price DECIMAL(18,4), reversed_on DATE, amount DECIMAL(18,4), pairs INTEGER
-- It is the sale at the same venue with the same number, on that day or before; of several the one of the same title,
-- then of the same amount, and of several sales of one stock number the last. A lot number alone needs the title as
-- well, where both say one. Without a number in common it is the one sale of the same title and amount within 90 days
-- before.
CREATE OR REPLACE TEMP TABLE matched_reversals AS
WITH lines AS (
    SELECT file_sha256, sheet, row_number, max(pair_number) AS pairs
    FROM current_rows
    WHERE status = 'sold' AND venue IN (SELECT venue FROM reversals)
    GROUP BY file_sha256, sheet, row_number
    HAVING max(pair_number) > 1
),
sold AS (
    SELECT
        row_sales.record_key,
        current_rows.file_sha256,
        current_rows.sheet,
        current_rows.row_number,
        current_rows.pair_number,
        coalesce(lines.pairs, 1) AS pairs,
        current_rows.venue,
        current_rows.sale_ref,
        CASE
            WHEN pair_number > 1 THEN regexp_replace(lot_ref, ' \(\d+ of \d+\)$', '')
            ELSE lot_ref
        END AS lot_ref,
        CASE
            WHEN pair_number > 1 THEN regexp_replace(stock_ref, ' \(\d+ of \d+\)$', '')
            ELSE stock_ref
        END AS stock_ref,
        current_rows.title,
        current_rows.sold_on,
        current_rows.currency,
        current_rows.price_native,
        current_rows.all_in_native
    FROM current_rows
    INNER JOIN row_sales ON current_rows.row_id = row_sales.row_id
    LEFT JOIN lines
        ON
            current_rows.file_sha256 = lines.file_sha256
            AND current_rows.sheet = lines.sheet
            AND current_rows.row_number = lines.row_number
    WHERE current_rows.status = 'sold' AND current_rows.venue IN (SELECT venue FROM reversals)
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
        AND (pays_for(one.amount, other.price_native, other.pairs) OR pays_for(one.amount, other.all_in_native, other.pairs))
        AND one.reversed_on - other.sold_on <= 90
),
compared AS (
    SELECT
        one.file_sha256,
        one.sheet,
        one.row_number,
        one.reversed_on,
        one.amount,
        one.pairs,
        other,
        other.record_key,
        other.sold_on,
        coalesce(one.sale_ref = other.sale_ref OR one.stock_ref = other.stock_ref, FALSE) AS has_number,
        coalesce(one.stock_ref = other.stock_ref, FALSE) AS has_stock_number,
        coalesce(one.title = other.title, FALSE) AS has_title,
        pays_for(one.amount, other.price_native, other.pairs) AS pays_price,
        coalesce(pays_price OR pays_for(one.amount, other.all_in_native, other.pairs), FALSE) AS has_amount,
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
),
of_lines AS (
    SELECT
        file_sha256,
        sheet,
        row_number,
        list_sort(list(DISTINCT record_key)) AS same_records,
        list(record_key ORDER BY other.pair_number) AS record_keys,
        min(CASE WHEN has_amount AND NOT pays_price THEN other.all_in_native ELSE other.price_native END) AS price,
        any_value(reversed_on) AS reversed_on,
        any_value(amount) AS amount,
        any_value(pairs) AS pairs
    FROM best
    GROUP BY file_sha256, sheet, row_number, other.file_sha256, other.sheet, other.row_number
)
SELECT
    file_sha256,
    sheet,
    row_number,
    min(record_keys) AS record_keys,
    min(price) AS price,
    any_value(reversed_on) AS reversed_on,
    any_value(amount) AS amount,
    any_value(pairs) AS pairs
FROM of_lines
GROUP BY file_sha256, sheet, row_number
HAVING count(DISTINCT same_records) = 1
