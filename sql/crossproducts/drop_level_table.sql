-- drop_level_table: remove the levels of one factor again. The part in braces is the factor's number.
DROP TABLE IF EXISTS temp.hedonic_level_{number}
