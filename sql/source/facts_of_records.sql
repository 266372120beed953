{% from "macros/fitted.jinja" import is_fitted %}
{% from "macros/stated.jinja" import stated %}
-- facts_of_records: what the records of files are together, whatever their order.
-- grain: one row.
-- reads: recorded_sales (the columns of sales that files hold, in the types of pipeline/schema.py).
-- columns: records, nameless (without a record_id), ids (different ones), priced (that count in a fit), high, low (the
--   sums of the first and of the next 60 bits of the MD5 of each that counts, written out as text).
WITH stated AS (
    SELECT
        record_id,
        coalesce({{ is_fitted() }}, FALSE) AS is_priced,
        md5(concat_ws(chr(31), record_id, {{ stated() }})) AS digest
    FROM (SELECT * REPLACE (CAST(price_paid AS DECIMAL(18, 4)) AS price_paid) FROM recorded_sales)
)
SELECT
    count(*) AS records,
    count(*) FILTER (WHERE record_id IS NULL) AS nameless,
    count(DISTINCT record_id) AS ids,
    count(*) FILTER (WHERE is_priced) AS priced,
    coalesce(sum(CAST('0x' || digest[1:15] AS BIGINT)) FILTER (WHERE is_priced), 0) AS high,
    coalesce(sum(CAST('0x' || digest[16:30] AS BIGINT)) FILTER (WHERE is_priced), 0) AS low
FROM stated
