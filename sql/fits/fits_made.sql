-- fits_made: every time that the market was fitted whose fit and sales are kept, the earliest first.
-- grain: fit_number
-- reads: fits_made, fits
-- columns: fit_number BIGINT, fit_id VARCHAR, fitted_at TIMESTAMP, run_id INTEGER, ruling_number BIGINT, settings VARCHAR
SELECT
    fits_made.fit_number,
    fit_id,
    fits_made.fitted_at,
    run_id,
    ruling_number,
    settings
FROM fits_made
SEMI JOIN fits USING (fit_id)
ORDER BY fits_made.fit_number
