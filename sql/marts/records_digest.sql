-- records_digest: a digest of all that a fit depends on in the sales; it changes when one of them does. One row.
-- grain: records_digest
-- reads: sales
-- columns: records_digest VARCHAR
-- It is kept for years, so it rests on a standard alone: the MD5 (RFC 1321) of every sale written out as text, and
-- the MD5 of these in their order, whatever the order of the sales. '2:' names this way of writing.
WITH stated AS (
    SELECT md5(concat_ws(
        chr(31),
        record_id,
        CASE WHEN held_out THEN 'held out' ELSE 'in the fit' END,
        coalesce(CAST(price_paid AS VARCHAR), chr(29)),
        coalesce(strftime(sold_on, '%Y-%m-%d'), chr(29)),
        coalesce(venue, chr(29)),
        coalesce(silhouette, chr(29)),
        coalesce(colourway, chr(29)),
        coalesce(era, chr(29)),
        coalesce(CAST(foot_mm AS VARCHAR), chr(29)),
        coalesce(CAST(CAST(grade AS DECIMAL(6, 2)) AS VARCHAR), chr(29)),
        coalesce(box, chr(29)),
        coalesce(tags, chr(29)),
        coalesce(overlay, chr(29)),
        coalesce(array_to_string(parts, chr(30)), chr(29)),
        coalesce(array_to_string(defects, chr(30)), chr(29)),
        coalesce(array_to_string(treatments, chr(30)), chr(29))
    )) AS record_md5
    FROM sales
    WHERE status = 'sold'
)

SELECT '2:' || md5(coalesce(string_agg(record_md5, '' ORDER BY record_md5), '')) AS records_digest
FROM stated
