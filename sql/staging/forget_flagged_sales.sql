-- forget_flagged_sales: clear the sales whose price a fit has flagged, before or now, so that they are settled again.
-- reads: price_flags, settled_rows, incoming (record_id)
-- writes: settled_sales
WITH flagged AS (
    SELECT CAST('0x' || record_id AS UBIGINT) AS row_key FROM price_flags
    UNION ALL
    SELECT CAST('0x' || record_id AS UBIGINT) FROM incoming
)
DELETE FROM settled_sales
WHERE record_key IN (SELECT record_key FROM settled_rows WHERE row_key IN (FROM flagged))
