-- keys_like: the keys of current rows that begin so, with the records that they are of and what those are.
-- grain: row_key
-- reads: current_rows, settled_rows, settled_sales
-- binds: beginning
-- columns: row_key VARCHAR, record_id VARCHAR, day DATE, title VARCHAR
-- Keys that begin so are those between two numbers; a beginning that is no number is that of none.
WITH keyed AS (
    SELECT
        coalesce(settled_rows.row_key, current_rows.node) AS row_key,
        coalesce(settled_rows.record_key, current_rows.node) AS record_key,
        settled_rows.row_id IS NULL AS is_alone,
        current_rows.row_id
    FROM current_rows
    LEFT JOIN settled_rows ON current_rows.row_id = settled_rows.row_id
),
alike AS MATERIALIZED (
    SELECT row_key, record_key, is_alone, min(row_id) AS row_id
    FROM keyed
    WHERE
        regexp_full_match($beginning, '[0-9a-f]{1,16}')
        AND row_key BETWEEN
            TRY_CAST('0x' || rpad($beginning, 16, '0') AS UBIGINT)
            AND TRY_CAST('0x' || rpad($beginning, 16, 'f') AS UBIGINT)
    GROUP BY ALL
),
named AS (
    SELECT alike.row_key, alike.record_key, sold_on, closed_on, offered_on, title
    FROM alike
    INNER JOIN current_rows ON alike.row_id = current_rows.row_id
    WHERE is_alone
    UNION ALL
    SELECT alike.row_key, alike.record_key, sold_on, closed_on, offered_on, title
    FROM alike
    INNER JOIN settled_sales ON alike.record_key = settled_sales.record_key
    WHERE NOT is_alone
)
SELECT
    format('{:016x}', row_key) AS row_key,
    format('{:016x}', record_key) AS record_id,
    coalesce(sold_on, closed_on, offered_on) AS day,
    title
FROM named
ORDER BY row_key
