-- kept_corrections: the owner's texts for fields of rows. Of several for one field the latest counts.
-- grain: row_key, field
-- reads: rulings
-- columns: row_key VARCHAR, field VARCHAR, value VARCHAR
SELECT
    record_id AS row_key,
    field,
    arg_max(value, ruling_number) AS value
FROM rulings
WHERE kind = 'correct'
GROUP BY record_id, field
ORDER BY record_id, field
