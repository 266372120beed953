-- ruled_links: the rows that the owner has ruled to be one sale, each ruling a key of its own.
-- grain: node, key
-- reads: rulings, row_nodes
-- columns: node UBIGINT, key UBIGINT
WITH ruled AS (
    SELECT md5_number_lower('ruling' || chr(31) || ruling_id) AS key, record_id AS row_key
    FROM rulings
    WHERE kind = 'same sale'
    UNION ALL
    SELECT md5_number_lower('ruling' || chr(31) || ruling_id), other_id
    FROM rulings
    WHERE kind = 'same sale'
)
SELECT DISTINCT node, key
FROM ruled
INNER JOIN row_nodes ON format('{:016x}', node) = row_key
