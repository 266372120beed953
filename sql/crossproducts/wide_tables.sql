-- wide_tables: let the engine count pairs of super-factors in plain arrays of up to 2^19 cells.
SET perfect_ht_threshold = 19
