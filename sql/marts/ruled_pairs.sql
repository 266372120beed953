-- ruled_pairs: the pairs that the owner has ruled to be one, each ruling a key of its own.
-- grain: node, key
-- reads: rulings, row_sales, known_pairs
-- columns: node VARCHAR, key VARCHAR
WITH ruled AS (
    SELECT ruling_id, CAST('0x' || unnest([record_id, other_id]) AS UBIGINT) AS row_key
    FROM rulings
    WHERE kind = 'same pair'
)
SELECT DISTINCT coalesce(pair_key, format('{:016x}', row_sales.record_key)) AS node, ruling_id AS key
FROM ruled
INNER JOIN row_sales ON ruled.row_key = row_sales.row_key
LEFT JOIN known_pairs ON row_sales.record_key = known_pairs.record_key
