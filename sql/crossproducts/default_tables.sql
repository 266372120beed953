-- default_tables: undo wide_tables.
RESET perfect_ht_threshold
