-- kept_additions: the sales that the owner has added by hand, as JSON of field and text.
-- grain: ruling_number
-- reads: rulings
-- columns: ruling_id VARCHAR, row_number BIGINT, record_id VARCHAR, cells VARCHAR
SELECT
    ruling_id,
    ruling_number AS row_number,
    record_id,
    value AS cells
FROM rulings
WHERE kind = 'add'
ORDER BY ruling_number
