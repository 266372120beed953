-- node_links: the nodes that share a key with another node.
-- grain: node, key
-- reads: row_nodes
-- columns: node UBIGINT, key UBIGINT
WITH links AS (
    SELECT DISTINCT node, listing_key AS key FROM row_nodes WHERE listing_key <> node
    UNION
    SELECT DISTINCT node, stock_key FROM row_nodes WHERE stock_key <> node
    UNION
    SELECT DISTINCT node, node FROM row_nodes
    WHERE node IN (SELECT listing_key FROM row_nodes UNION ALL SELECT stock_key FROM row_nodes)
)
SELECT node, key
FROM links
WHERE key IN (SELECT key FROM links GROUP BY key HAVING count(*) > 1)
