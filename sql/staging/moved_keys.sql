-- moved_keys: the keys that no row has any longer, with the key that now stands where each stood.
-- grain: old_key
-- reads: incoming (file_sha256, sheet, row_number, pair_number, row_key), keyed_rows
-- columns: old_key VARCHAR, new_key VARCHAR
WITH gone AS (
    SELECT DISTINCT file_sha256, sheet, row_number, pair_number, CAST('0x' || row_key AS UBIGINT) AS row_key
    FROM incoming
)
SELECT
    format('{:016x}', gone.row_key) AS old_key,
    format('{:016x}', min(now.row_key)) AS new_key
FROM gone
INNER JOIN keyed_rows AS now
    ON
        gone.file_sha256 = now.file_sha256
        AND gone.sheet = now.sheet
        AND gone.row_number = now.row_number
        AND gone.pair_number = now.pair_number
WHERE gone.row_key NOT IN (SELECT row_key FROM keyed_rows)
GROUP BY gone.row_key
ORDER BY old_key
