-- store_fit: keep a fit as the latest; the same fit again takes the place of the earlier one.
-- writes: fits
-- binds: fit_id, fitted_at, as_of, market_digest, records_digest, document, arrays
INSERT OR REPLACE INTO fits BY NAME
SELECT
    $fit_id AS fit_id,
    $fitted_at AS fitted_at,
    $as_of AS as_of,
    $market_digest AS market_digest,
    $records_digest AS records_digest,
    $document AS document,
    $arrays AS arrays,
    (SELECT coalesce(max(fit_number), 0) + 1 FROM fits) AS fit_number
