-- kept_rulings: every ruling with the keys that it was given, and the records that these are of now (the keys
-- themselves where no row has them any longer), in the order in which they were kept.
-- grain: ruling_id
-- reads: rulings, record_sources
-- columns: ruling_id VARCHAR, kind VARCHAR, record_id VARCHAR, other_id VARCHAR, record_now VARCHAR, other_now VARCHAR, field VARCHAR, value VARCHAR, note VARCHAR, ruled_at TIMESTAMP
WITH now AS (
    SELECT DISTINCT row_key, record_id
    FROM record_sources
)
SELECT
    rulings.ruling_id,
    rulings.kind,
    rulings.record_id,
    rulings.other_id,
    coalesce(one.record_id, rulings.record_id) AS record_now,
    coalesce(other.record_id, rulings.other_id) AS other_now,
    rulings.field,
    rulings.value,
    rulings.note,
    rulings.ruled_at
FROM rulings
LEFT JOIN now AS one ON rulings.record_id = one.row_key
LEFT JOIN now AS other ON rulings.other_id = other.row_key
ORDER BY rulings.ruling_number
