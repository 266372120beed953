-- next_row: the row_id that is free.
-- grain: one row
-- reads: staged_rows
-- columns: row_id BIGINT
SELECT coalesce(max(row_id), 0) + 1 AS row_id
FROM staged_rows
