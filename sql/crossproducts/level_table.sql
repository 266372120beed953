-- level_table: the levels of one factor with their numbers, as a table whose statistics the engine knows.
-- grain: one row a level.
-- reads: hedonic_incoming (the factor's columns c1, c2, ..., part, effect).
-- columns: c1, c2, ..., part (its share of the super-factor's number), effect (log price).
-- The part in braces is the factor's number.
CREATE OR REPLACE TEMP TABLE hedonic_level_{number} AS
SELECT COLUMNS(*)
FROM hedonic_incoming
