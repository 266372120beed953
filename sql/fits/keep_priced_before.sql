-- keep_priced_before: keep what the latest fit priced past sales at before they happened.
-- grain: record_id
-- reads: incoming (the columns of priced_before)
-- writes: priced_before
INSERT INTO priced_before BY NAME
FROM incoming
