-- lost_rulings: the rulings of which a row is not in the ledger any longer, in the order in which they were kept.
-- grain: ruling_id, lost_key
-- reads: rulings, staged_rows, row_keys
-- columns: ruling_id VARCHAR, kind VARCHAR, lost_key VARCHAR
WITH keyed AS (
    SELECT ruling_id, kind, ruling_number, unnest(list_distinct([record_id, other_id])) AS lost_key
    FROM rulings
    WHERE field IS NULL OR field <> 'file'
),
known AS (
    SELECT coalesce(row_keys.row_key, staged_rows.node) AS row_key
    FROM staged_rows
    LEFT JOIN row_keys ON staged_rows.row_id = row_keys.row_id
)
SELECT ruling_id, kind, lost_key
FROM keyed
WHERE lost_key IS NOT NULL AND CAST('0x' || lost_key AS UBIGINT) NOT IN (SELECT row_key FROM known)
ORDER BY ruling_number, lost_key
