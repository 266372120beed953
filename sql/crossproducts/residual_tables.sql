-- residual_tables: the meat of a robust covariance, the pair tables weighted by squared scores.
-- grain: one row a pair of super-factors and a pair of their cells that occurs; the others are null.
-- reads: records (c1, c2, ..., y, w), hedonic_level_N (one a factor: its columns, part, effect),
--   hedonic_setting (one row: intercept, scale, tails, clip, kappa; those not used are null).
-- columns: s1, s2, ... (the cell of each super-factor), weight (sum of the squared scores).
-- A score is w times the residual, or its pseudo-value under a robust fit. The parts in braces are
-- repeated for each factor or super-factor; they hold none but these names.
WITH packed AS (
  SELECT
    {supers},
    records.w,
    records.y - intercept - ({effects}) AS residual,
    scale,
    tails,
    clip,
    kappa
  FROM records
  {joins}
  CROSS JOIN hedonic_setting
),
scored AS (
  SELECT
    {cells},
    {score} AS score
  FROM packed
)
SELECT
  {cells},
  sum(score * score) AS weight
FROM scored
GROUP BY GROUPING SETS ({sets})
