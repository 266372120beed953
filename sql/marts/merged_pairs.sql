-- merged_pairs: the keys of the pairs, those that were ruled to be one with the same key.
-- grain: record_id
-- reads: pair_keys, record_sources, incoming (node, label: the least node of those that are one pair)
-- columns: record_id VARCHAR, pair_key VARCHAR
CREATE OR REPLACE TEMP TABLE merged_pairs AS
WITH ruled AS (
    SELECT DISTINCT record_sources.record_id, pair_key
    FROM record_sources
    LEFT JOIN pair_keys ON record_sources.record_id = pair_keys.record_id
    WHERE
        EXISTS (FROM incoming)
        AND md5_number_lower(coalesce(pair_key, record_sources.record_id)) IN (SELECT node FROM incoming)
)
SELECT record_id, pair_key
FROM pair_keys
WHERE record_id NOT IN (SELECT record_id FROM ruled)
UNION ALL
SELECT record_id, format('{:016x}', label)
FROM ruled
INNER JOIN incoming ON md5_number_lower(coalesce(pair_key, record_id)) = incoming.node
