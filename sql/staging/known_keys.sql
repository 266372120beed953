-- known_keys: which of two keys are keys of rows in the ledger, and the record that each is of now.
-- grain: row_key
-- reads: record_sources
-- columns: row_key VARCHAR, record_id VARCHAR
SELECT DISTINCT row_key, record_id
FROM record_sources
WHERE row_key IN ($record_id, $other_id)
