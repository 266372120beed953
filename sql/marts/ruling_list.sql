-- ruling_list: every ruling, with the records that it is about now (null where no row has the key any longer).
-- grain: ruling_id
-- reads: rulings, record_sources
-- columns: ruling_id VARCHAR, kind VARCHAR, record_id VARCHAR, other_id VARCHAR, value VARCHAR, note VARCHAR, ruled_at TIMESTAMP
WITH now AS (
    SELECT DISTINCT row_key, record_id
    FROM record_sources
)
SELECT
    ruling_id,
    kind,
    one.record_id,
    other.record_id AS other_id,
    value,
    note,
    ruled_at
FROM rulings
LEFT JOIN now AS one ON rulings.record_id = one.row_key
LEFT JOIN now AS other ON rulings.other_id = other.row_key
ORDER BY ruling_number
