{% from "macros/stated.jinja" import stated %}
-- records_digest: a digest of all that a fit depends on in the sales; it changes when one of them does. One row.
-- grain: records_digest
-- reads: sales
-- columns: records_digest VARCHAR
-- It is kept for years, so it rests on a standard alone: the MD5 (RFC 1321) of every sale written out as text, and
-- the MD5 of these in their order, whatever the order of the sales. What terms may read is in it
-- (pipeline/schema.py). '3:' names this way of writing.
WITH stated AS (
    SELECT md5(concat_ws(
        chr(31),
        record_id,
        CASE WHEN held_out THEN 'held out' ELSE 'in the fit' END,
        {{ stated() }}    )) AS record_md5
    FROM sales
    WHERE status = 'sold'
)

SELECT '3:' || md5(coalesce(string_agg(record_md5, '' ORDER BY record_md5), '')) AS records_digest
FROM stated
