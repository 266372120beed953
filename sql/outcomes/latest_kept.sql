-- latest_kept: the latest day on which a value was kept, before another day, with the fit that it was said by.
-- grain: one row at most
-- reads: kept_values
-- binds: before
-- columns: said_on DATE, fit_id VARCHAR
SELECT
    said_on,
    fit_id
FROM kept_values
WHERE said_on < CAST($before AS DATE)
ORDER BY said_on DESC, kept_at DESC, fit_id
LIMIT 1
