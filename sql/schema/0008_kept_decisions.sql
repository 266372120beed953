-- 0008_kept_decisions: what the owner decided with a value, in the value's `currency`.

-- Of a lot: what its resale should leave on average after the venue's fees and the costs in the shop.
ALTER TABLE kept_values ADD COLUMN expected_net DOUBLE;

-- Of work on a pair: the treatments, the fair value without them, what they cost, and the net gain on average. The median
-- and the band are then those of one sale after the work.
ALTER TABLE kept_values ADD COLUMN treatments VARCHAR[];
ALTER TABLE kept_values ADD COLUMN value_before DOUBLE;
ALTER TABLE kept_values ADD COLUMN work_cost DOUBLE;
ALTER TABLE kept_values ADD COLUMN expected_gain DOUBLE;
