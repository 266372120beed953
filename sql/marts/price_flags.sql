-- price_flags: keep the price flags of a fit.
-- grain: record_id, flag
-- reads: incoming (record_id, flag)
-- writes: price_flags
INSERT INTO price_flags BY NAME
SELECT DISTINCT record_id, flag
FROM incoming
