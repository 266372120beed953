-- reversal_count: how many rows undo a sale; one row.
-- grain: reversals
-- reads: reversals
-- columns: reversals BIGINT
SELECT count(*) AS reversals
FROM reversals
