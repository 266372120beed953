-- 0005_refunds: refunds of several pairs.

-- How many pairs a row takes back, null where it does not say.
ALTER TABLE reversals ADD COLUMN pairs INTEGER;
