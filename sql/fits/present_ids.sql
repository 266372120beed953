-- present_ids: the record by which a sale goes now that went by another id, where its row is still there.
-- grain: record_id
-- reads: incoming (record_id), row_records
-- columns: record_id VARCHAR, present_id VARCHAR
SELECT
    incoming.record_id,
    min(format('{:016x}', row_records.record_key)) AS present_id
FROM incoming
INNER JOIN row_records ON CAST('0x' || incoming.record_id AS UBIGINT) = row_records.row_key
GROUP BY incoming.record_id
ORDER BY incoming.record_id
