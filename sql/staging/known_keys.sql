-- known_keys: which of two keys are keys of rows in the ledger.
-- grain: row_key
-- reads: record_sources
-- columns: row_key VARCHAR
SELECT DISTINCT row_key
FROM record_sources
WHERE row_key IN ($record_id, $other_id)
