-- keyed_as_settled: every staged row with what it is known by, of rows whose sales are settled.
-- grain: row_id
-- reads: staged_rows, row_keys (of the nodes of removed rows), settled_rows
-- writes: keyed_rows (the columns of staged_rows, and row_key UBIGINT)
-- A row that was not removed and is not known by its node alone is among settled_rows.
CREATE OR REPLACE TEMP VIEW keyed_rows AS
SELECT
    staged_rows.*,
    coalesce(row_keys.row_key, settled_rows.row_key, staged_rows.node) AS row_key
FROM staged_rows
LEFT JOIN row_keys ON staged_rows.row_id = row_keys.row_id
LEFT JOIN settled_rows ON staged_rows.row_id = settled_rows.row_id
