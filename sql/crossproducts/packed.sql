-- packed: each record as a few numbers, its factors packed into super-factors.
-- grain: one row a record.
-- reads: records (c1, c2, ..., y, w), hedonic_level_N (one a factor: its columns, part, which is the
--   level's share of its super-factor's number).
-- columns: s1, s2, ... (the number of each super-factor; null where a level is not known), y, and w where
--   records are weighted.
-- The parts in braces are repeated for each factor or super-factor; they hold none but these names.
SELECT
  {supers},
  {values}
FROM records
{joins}
