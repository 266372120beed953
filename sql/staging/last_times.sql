-- last_times: the latest time at which anything was kept in the ledger, by the clock of that day; null in a new one.
-- grain: one row
-- reads: runs, fits, rulings
-- columns: last_kept_at TIMESTAMP
SELECT greatest(
    (SELECT max(loaded_at) FROM runs),
    (SELECT max(fitted_at) FROM fits),
    (SELECT max(ruled_at) FROM rulings)
) AS last_kept_at
