-- forget_pair_histories: make room for those derived anew.
-- writes: pair_histories
TRUNCATE pair_histories
