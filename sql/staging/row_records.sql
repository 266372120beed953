-- row_records: the sale that each staged row tells of.
-- grain: row_id (the row's place in staged_rows)
-- reads: row_nodes, incoming (node, label: the least node of those that are one sale)
-- columns: row_id BIGINT, row_key VARCHAR, record_id VARCHAR
CREATE OR REPLACE TEMP TABLE row_records AS
SELECT
    row_id,
    format('{:016x}', node) AS row_key,
    format('{:016x}', coalesce(label, node)) AS record_id
FROM row_nodes
LEFT JOIN incoming USING (node)
