-- store_fit: keep a fit; the same fit again takes the place of the earlier one.
-- writes: fits
-- binds: fit_id, fitted_at, as_of, market_digest, records_digest, document, arrays
INSERT OR REPLACE INTO fits (fit_id, fitted_at, as_of, market_digest, records_digest, document, arrays)
VALUES ($fit_id, $fitted_at, $as_of, $market_digest, $records_digest, $document, $arrays)
