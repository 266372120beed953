-- row_sales: the sale of each current row.
-- grain: row_id
-- reads: row_nodes, incoming (node, label: the least node of those that are one sale)
-- columns: row_id BIGINT, row_key UBIGINT, record_key UBIGINT, is_plain BOOLEAN
CREATE OR REPLACE TEMP TABLE row_sales AS
SELECT
    row_id,
    row_nodes.node AS row_key,
    coalesce(label, row_nodes.node) AS record_key,
    is_plain AND label IS NULL AS is_plain
FROM row_nodes
LEFT JOIN incoming ON row_nodes.node = incoming.node
