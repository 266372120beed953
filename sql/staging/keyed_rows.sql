-- keyed_rows: every staged row with what it is known by.
-- grain: row_id
-- reads: staged_rows, row_keys
-- writes: keyed_rows (the columns of staged_rows, and row_key UBIGINT)
CREATE OR REPLACE TEMP VIEW keyed_rows AS
SELECT
    staged_rows.*,
    coalesce(row_keys.row_key, staged_rows.node) AS row_key
FROM staged_rows
LEFT JOIN row_keys ON staged_rows.row_id = row_keys.row_id
