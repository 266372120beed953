-- decision_count: how many decisions of the owner are kept; one row.
-- grain: decisions
-- reads: rulings
-- columns: decisions BIGINT
SELECT count(*) AS decisions
FROM rulings
