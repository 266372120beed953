-- stored_fit: one fit of the market as it is stored.
-- grain: fit_id
-- reads: fits
-- binds: fit_id
-- columns: document VARCHAR, arrays BLOB
SELECT document, arrays
FROM fits
WHERE fit_id = $fit_id
