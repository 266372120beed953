-- said_of_sales: what the owner has ruled of single sales, what a fit found of their prices, and what was refunded.
-- grain: record_key
-- reads: rulings, price_flags, row_sales, sale_refunds
-- columns: record_key UBIGINT, era VARCHAR, verdict VARCHAR, price_flags VARCHAR[], is_undone BOOLEAN, refunded DECIMAL(18,4)
-- Of several rulings of a kind the latest counts.
CREATE OR REPLACE TEMP TABLE said_of_sales AS
WITH said AS (
    SELECT CAST('0x' || record_id AS UBIGINT) AS row_key, kind, value, ruling_number
    FROM rulings
    WHERE kind IN ('era', 'accept', 'hold')
    UNION ALL
    SELECT CAST('0x' || record_id AS UBIGINT), 'price flag', flag, NULL
    FROM price_flags
),
keys AS (
    SELECT DISTINCT row_key, record_key
    FROM row_sales
    WHERE row_key IN (SELECT row_key FROM said)
),
owned AS (
    SELECT
        record_key,
        arg_max(value, ruling_number) FILTER (kind = 'era') AS era,
        arg_max(kind, ruling_number) FILTER (kind IN ('accept', 'hold')) AS verdict,
        list(DISTINCT value) FILTER (kind = 'price flag') AS price_flags
    FROM said
    INNER JOIN keys ON said.row_key = keys.row_key
    GROUP BY record_key
),
undone AS (
    SELECT record_key, bool_or(amount IS NULL) AS is_undone, sum(amount) AS refunded
    FROM sale_refunds
    GROUP BY record_key
)
SELECT
    coalesce(owned.record_key, undone.record_key) AS record_key,
    era,
    verdict,
    price_flags,
    coalesce(is_undone, FALSE) AS is_undone,
    CAST(coalesce(refunded, 0) AS DECIMAL(18, 4)) AS refunded
FROM owned
FULL JOIN undone ON owned.record_key = undone.record_key
