-- levels: the combinations of values that some columns take in the records of each stage.
-- grain: one row a distinct combination of the columns (c1, c2, ...) and stage.
-- reads: records (these columns only).
-- columns: c1, c2, ..., stage, records_behind.
SELECT
    COLUMNS(*),
    count(*) AS records_behind
FROM records
GROUP BY ALL
