-- ruled_links: the rows that the owner has ruled to be one sale, each ruling a key of its own.
-- grain: node, key
-- reads: rulings, row_nodes
-- columns: node UBIGINT, key UBIGINT
WITH ruled AS (
    SELECT ruling_id, CAST('0x' || unnest([record_id, other_id]) AS UBIGINT) AS node
    FROM rulings
    WHERE kind = 'same sale'
)
SELECT DISTINCT node, md5_number_lower('ruling' || chr(31) || ruling_id) AS key
FROM ruled
WHERE node IN (SELECT node FROM row_nodes)
