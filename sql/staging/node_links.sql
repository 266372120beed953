-- node_links: the nodes that share a key with another node.
-- grain: node, key
-- reads: row_nodes
-- columns: node UBIGINT, key UBIGINT
WITH shared AS (
    SELECT listing_key AS key FROM row_nodes WHERE listing_key IS NOT NULL GROUP BY listing_key HAVING count(*) > 1
    UNION
    SELECT stock_key FROM row_nodes WHERE stock_key IS NOT NULL GROUP BY stock_key HAVING count(*) > 1
),
links AS (
    SELECT node, listing_key AS key FROM row_nodes WHERE listing_key IN (FROM shared)
    UNION
    SELECT node, stock_key FROM row_nodes WHERE stock_key IN (FROM shared)
)
SELECT node, key
FROM links
WHERE key IN (SELECT key FROM links GROUP BY key HAVING count(*) > 1)
