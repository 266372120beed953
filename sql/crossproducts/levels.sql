-- levels: the values that one factor takes in the records, and X'Wy over them.
-- grain: one row a distinct combination of the factor's columns (c1, c2, ...).
-- reads: records (c1, c2, ..., y, w), hedonic_setting (one row: origin).
-- columns: c1, c2, ..., records_behind, moment (sum of w·(y - origin)).
SELECT
  COLUMNS('^c[0-9]+$'),
  count(*) AS records_behind,
  sum(w * (y - origin)) AS moment
FROM records
CROSS JOIN hedonic_setting
GROUP BY ALL
