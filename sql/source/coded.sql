-- coded: each record as a few numbers, one a super-factor.
-- grain: one row a record.
-- reads: records (c1, c2, ..., y, w, stage, number), hedonic_level_N (one a factor: its columns, and part, which is what
--   the level adds to its super-factor's number).
-- columns: s1, s2, ... (the number of each super-factor; null where a level is not known), y, w, stage, number.
-- The parts in braces are repeated for each factor or super-factor; they hold none but these names.
SELECT
    {supers},
    y,
    w,
    stage,
    number
FROM records
{joins}
