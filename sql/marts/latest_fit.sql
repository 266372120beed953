-- latest_fit: the fit of the market that was kept last; one row at most.
-- grain: fit_id
-- reads: fits
-- columns: fit_id VARCHAR, fitted_at TIMESTAMP, as_of DATE, market_digest VARCHAR, records_digest VARCHAR, document VARCHAR, arrays BLOB
SELECT
    fit_id,
    fitted_at,
    as_of,
    market_digest,
    records_digest,
    document,
    arrays
FROM fits
WHERE fit_number = (SELECT max(fit_number) FROM fits)
