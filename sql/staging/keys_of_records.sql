-- keys_of_records: the keys of the rows that records are made of.
-- grain: record_id, row_key
-- reads: incoming (record_id), record_sources
-- columns: record_id VARCHAR, row_key VARCHAR
SELECT DISTINCT record_sources.record_id, record_sources.row_key
FROM record_sources
WHERE record_sources.record_id IN (SELECT incoming.record_id FROM incoming)
ORDER BY ALL
