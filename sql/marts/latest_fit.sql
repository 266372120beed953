-- What:    the most recent fit of the market
-- Grain:   one row per fit (fit_id); one row at most
-- Reads:   fits
-- Columns: fit_id, fitted_at, as_of, market_digest, records_digest, document, arrays
SELECT
    fit_id,
    fitted_at,
    as_of,
    market_digest,
    records_digest,
    document,
    arrays
FROM fits
ORDER BY fitted_at DESC, fit_id
LIMIT 1
