-- resolved_rulings: the owner's rulings on single sales, by the record that each sale is now.
-- grain: record_id
-- reads: rulings, record_sources
-- columns: record_id VARCHAR, era VARCHAR, accepted BOOLEAN, held BOOLEAN
CREATE OR REPLACE TEMP TABLE resolved_rulings AS
SELECT
    record_sources.record_id,
    arg_max(value, (ruled_at, ruling_id)) FILTER (kind = 'era') AS era,
    arg_max(kind, (ruled_at, ruling_id)) FILTER (kind IN ('accept', 'hold')) = 'accept' AS accepted,
    arg_max(kind, (ruled_at, ruling_id)) FILTER (kind IN ('accept', 'hold')) = 'hold' AS held
FROM rulings
INNER JOIN (SELECT DISTINCT row_key, record_id FROM record_sources) AS record_sources
    ON rulings.record_id = record_sources.row_key
WHERE kind IN ('era', 'accept', 'hold')
GROUP BY record_sources.record_id
