-- forget_pair_histories: clear the table before it is derived again.
-- writes: pair_histories
TRUNCATE pair_histories
