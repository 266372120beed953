-- pair_tables: X'WX as tables over pairs of super-factors (a few factors packed into one number).
-- grain: one row a pair of super-factors and a pair of their cells that occurs; the others are null.
-- reads: records (c1, c2, ..., y, w), hedonic_level_N (one a factor: its columns, part).
-- columns: s1, s2, ... (the cell of each super-factor), weight (records, or the sum of w).
-- The parts in braces are repeated for each factor or super-factor; they hold none but these names.
WITH packed AS (
  SELECT
    {supers},
    records.w
  FROM records
  {joins}
)
SELECT
  {cells},
  {weight} AS weight
FROM packed
GROUP BY GROUPING SETS ({sets})
