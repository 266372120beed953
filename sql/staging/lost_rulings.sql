-- lost_rulings: the rulings of which a row is not in the ledger any longer, in the order in which they were kept.
-- grain: ruling_id, lost_key
-- reads: rulings, keyed_rows
-- columns: ruling_id VARCHAR, kind VARCHAR, lost_key VARCHAR
WITH keyed AS (
    SELECT ruling_id, kind, ruling_number, unnest(list_distinct([record_id, other_id])) AS lost_key
    FROM rulings
    WHERE field IS NULL OR field <> 'file'
)
SELECT ruling_id, kind, lost_key
FROM keyed
WHERE lost_key IS NOT NULL AND CAST('0x' || lost_key AS UBIGINT) NOT IN (SELECT row_key FROM keyed_rows)
ORDER BY ruling_number, lost_key
