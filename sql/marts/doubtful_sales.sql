{% from "macros/offers.jinja" import every_offer %}
-- doubtful_sales: the sales and offers that await the owner's decision by themselves, each with why.
-- grain: record_id, kind
-- reads: current_rows, settled_rows, settled_sales, rulings
-- binds: holding_flags (the flags that exclude a record), price_flags (the flags of a price)
-- columns: record_id VARCHAR, kind VARCHAR, day DATE, why VARCHAR
-- `kind` is "excluded" (kept out of the fit by a flag) or "price" (a sale whose price looks like a typing error). One that
-- the owner keeps out has been decided on; so has a price that they accept, keep out or correct.
WITH offers AS NOT MATERIALIZED ({{ every_offer() }}),
said AS MATERIALIZED (
    SELECT
        CAST('0x' || record_id AS UBIGINT) AS row_key,
        kind
    FROM rulings
    WHERE kind IN ('accept', 'hold') OR (kind = 'correct' AND field = 'price_native')
),
decided AS MATERIALIZED (
    SELECT DISTINCT
        coalesce(settled_rows.record_key, current_rows.node) AS record_key,
        said.kind
    FROM current_rows
    LEFT JOIN settled_rows ON current_rows.row_id = settled_rows.row_id
    INNER JOIN said ON coalesce(settled_rows.row_key, current_rows.node) = said.row_key
),
doubtful AS (
    SELECT
        record_key,
        'excluded' AS kind,
        coalesce(sold_on, closed_on) AS day,
        list_filter(flags, lambda flag: list_contains(CAST($holding_flags AS VARCHAR[]), flag)) AS why
    FROM offers
    WHERE held_out AND record_key NOT IN (SELECT record_key FROM decided WHERE kind = 'hold')
    UNION ALL
    SELECT
        record_key,
        'price',
        coalesce(sold_on, closed_on),
        list_filter(flags, lambda flag: list_contains(CAST($price_flags AS VARCHAR[]), flag))
    FROM offers
    WHERE
        list_has_any(flags, CAST($price_flags AS VARCHAR[]))
        AND status = 'sold'
        AND record_key NOT IN (SELECT record_key FROM decided)
)
SELECT
    format('{:016x}', record_key) AS record_id,
    kind,
    day,
    array_to_string(why, ', ') AS why
FROM doubtful
ORDER BY kind, day, record_id
