-- levels: the values that one factor takes in the records.
-- grain: one row a distinct combination of the factor's columns (c1, c2, ...).
-- reads: records (the factor's columns only).
-- columns: c1, c2, ..., records_behind.
SELECT
  COLUMNS(*),
  count(*) AS records_behind
FROM records
GROUP BY ALL
