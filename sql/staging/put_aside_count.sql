-- put_aside_count: how many rows in quarantine are there because they are no sale of one pair, not for an error.
-- grain: one row
-- reads: quarantine
-- columns: put_aside BIGINT
SELECT count(*) AS put_aside
FROM quarantine
WHERE is_put_aside(field)
