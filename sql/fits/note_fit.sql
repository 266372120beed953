-- note_fit: keep that the market was fitted: which fit it gave, and what the ledger had had by then.
-- grain: fit_number
-- reads: fits, runs, rulings
-- writes: fits_made
-- binds: fit_id, fitted_at, settings
INSERT INTO fits_made BY NAME
SELECT
    fit_number,
    fit_id,
    $fitted_at AS fitted_at,
    (SELECT coalesce(max(run_id), 0) FROM runs) AS run_id,
    (SELECT coalesce(max(ruling_number), 0) FROM rulings) AS ruling_number,
    $settings AS settings
FROM fits
WHERE fit_id = $fit_id
