-- residual_spread: the median size of the residuals, from which re-weighting starts.
-- grain: one row.
-- reads: records (c1, c2, ..., y, w), hedonic_level_N (one a factor: its columns, effect),
--   hedonic_setting (one row: intercept).
-- columns: middle (median of |residual| · root of w), mean_square.
-- The parts in braces are repeated for each factor; they hold none but these names.
WITH residuals AS (
  SELECT (records.y - intercept - ({effects})) * sqrt(records.w) AS residual
  FROM records
  {joins}
  CROSS JOIN hedonic_setting
)
SELECT
  approx_quantile(abs(residual), 0.5) AS middle,
  avg(residual * residual) AS mean_square
FROM residuals
