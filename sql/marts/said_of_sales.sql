-- said_of_sales: what the owner has ruled of single sales, and what a fit found of their prices.
-- grain: record_key
-- reads: rulings, price_flags, row_sales
-- columns: record_key UBIGINT, era VARCHAR, verdict VARCHAR, price_flags VARCHAR[]
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
)
SELECT
    record_key,
    arg_max(value, ruling_number) FILTER (kind = 'era') AS era,
    arg_max(kind, ruling_number) FILTER (kind IN ('accept', 'hold')) AS verdict,
    list(DISTINCT value) FILTER (kind = 'price flag') AS price_flags
FROM said
INNER JOIN keys ON said.row_key = keys.row_key
GROUP BY record_key
