-- known_pairs: the pair key that each sale with a 'same pair' ruling, or linked to one, has without the ruling.
-- grain: record_key
-- reads: rulings, current_rows, settled_rows, settled_sales, own_histories
-- columns: record_key UBIGINT, pair_key VARCHAR
CREATE OR REPLACE TEMP TABLE known_pairs AS
WITH offers AS (
    SELECT
        node AS record_key,
        own_pair_key(stock_ref, stamp_text, notes, silhouette, colourway, foot_mm) AS own_key
    FROM current_rows
    WHERE NOT EXISTS (SELECT 1 FROM settled_rows WHERE settled_rows.row_id = current_rows.row_id)
    UNION ALL
    SELECT
        record_key,
        own_pair_key(stock_ref, stamp_text, notes, silhouette, colourway, foot_mm)
    FROM settled_sales
)
SELECT offers.record_key, coalesce(own_histories.pair_key, own_key) AS pair_key
FROM offers
LEFT JOIN own_histories ON offers.record_key = own_histories.record_key
WHERE
    EXISTS (SELECT 1 FROM rulings WHERE kind = 'same pair')
    AND coalesce(own_histories.pair_key, own_key) IS NOT NULL
