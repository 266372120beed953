-- ruled_pairs: the pairs that the owner has ruled to be one, each ruling a key of its own.
-- grain: node, key
-- reads: rulings, record_sources, pair_keys
-- columns: node UBIGINT, key UBIGINT
WITH ruled AS (
    SELECT ruling_id, record_id AS row_key FROM rulings WHERE kind = 'same pair'
    UNION ALL
    SELECT ruling_id, other_id FROM rulings WHERE kind = 'same pair'
)
SELECT DISTINCT
    md5_number_lower(coalesce(pair_key, record_sources.record_id)) AS node,
    md5_number_lower('ruling' || chr(31) || ruling_id) AS key
FROM ruled
INNER JOIN record_sources ON ruled.row_key = record_sources.row_key
LEFT JOIN pair_keys ON record_sources.record_id = pair_keys.record_id
