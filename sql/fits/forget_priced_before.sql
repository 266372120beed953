-- forget_priced_before: forget what an earlier fit priced past sales at.
-- writes: priced_before
TRUNCATE priced_before
