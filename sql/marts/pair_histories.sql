-- pair_histories: keep the pairs known from other offers or a ruling.
-- grain: record_key
-- reads: own_histories, known_pairs, row_sales, incoming (node, label: of the pairs that were ruled to be one)
-- writes: pair_histories
INSERT INTO pair_histories BY NAME
WITH ruled AS (
    SELECT record_key, label AS pair_key
    FROM known_pairs
    INNER JOIN incoming ON known_pairs.pair_key = incoming.node
    UNION
    SELECT record_key, label
    FROM row_sales
    INNER JOIN incoming ON row_sales.record_key = try_cast('0x' || incoming.node AS UBIGINT)
)
SELECT record_key, pair_key
FROM own_histories
WHERE record_key NOT IN (SELECT record_key FROM ruled)
UNION ALL
SELECT record_key, pair_key
FROM ruled
