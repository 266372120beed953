-- score_tables: X'W(weight · residual / kappa) over super-factors, for one round of re-weighting.
-- grain: one row a super-factor and a cell of it that occurs; the others are null.
-- reads: records (c1, c2, ..., y, w), hedonic_level_N (one a factor: its columns, part, effect),
--   hedonic_setting (one row: intercept, scale, tails, clip, kappa; those not used are null).
-- columns: s1, s2, ... (the cell of each super-factor), score (sum of w · score), squares (sum of
--   w · score²), spread (sum of w · weight · residual²).
-- The parts in braces are repeated for each factor or super-factor; they hold none but these names.
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
    w,
    residual,
    {score} / w AS score,
    {score} / w * kappa * residual AS weighted
  FROM packed
)
SELECT
  {cells},
  sum(w * score) AS score,
  sum(w * score * score) AS squares,
  sum(w * weighted) AS spread
FROM scored
GROUP BY GROUPING SETS ({sets})
