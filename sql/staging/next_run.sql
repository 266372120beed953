-- next_run: the number of the run that is to come.
-- grain: one row
-- reads: runs
-- columns: run_id INTEGER
SELECT CAST(coalesce(max(run_id), 0) + 1 AS INTEGER) AS run_id
FROM runs
