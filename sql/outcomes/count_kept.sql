-- count_kept: how many values are kept.
-- grain: one row
-- reads: kept_values
-- columns: kept BIGINT
SELECT count(*) AS kept
FROM kept_values
