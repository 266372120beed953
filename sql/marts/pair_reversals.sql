-- pair_reversals: what undid these sales, or a part of them.
-- grain: one row of an export that undoes a sale
-- reads: reversals
-- binds: record_ids
-- columns: record_id VARCHAR, kind VARCHAR, reversed_on DATE, amount DOUBLE, currency VARCHAR
WITH wanted AS (
    SELECT DISTINCT unnest(CAST($record_ids AS VARCHAR[])) AS record_id
)
SELECT DISTINCT
    wanted.record_id,
    reversals.kind,
    reversals.reversed_on,
    reversals.amount::DOUBLE AS amount,
    reversals.currency
FROM reversals
INNER JOIN wanted ON wanted.record_id = format('{:016x}', reversals.record_key)
ORDER BY wanted.record_id, reversals.reversed_on, reversals.kind, amount
