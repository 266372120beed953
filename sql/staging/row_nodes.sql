-- row_nodes: what each current row by itself is known by, and the keys that may link it to other rows.
-- grain: row_id
-- reads: current_rows, row_keys
-- columns: row_id BIGINT, node UBIGINT, listing_key UBIGINT, stock_key UBIGINT, is_plain BOOLEAN
-- One number at one venue, first offered on one day, is one listing; one stock number whose offer ended on one day is
-- one sale, wherever it is recorded (where it was not sold: at one venue). A key that one file itself uses for rows of
-- different titles, prices or sizes links nothing. A row is plain where its node is that of staged_rows. The node rests
-- on what was read, the keys on what the owner has made of it, so that a correction may link rows and never changes
-- what a row is known by.
CREATE OR REPLACE TEMP TABLE row_nodes AS
WITH keyed AS (
    SELECT
        row_id,
        node,
        CASE
            WHEN sale_ref IS NULL AND offered_on IS NOT NULL AND own_number(lot_ref, stock_ref) IS NOT NULL
                THEN hash('listing', venue, own_number(lot_ref, stock_ref), offered_on)
        END AS listing_key,
        CASE
            WHEN stock_ref IS NOT NULL AND closed_on IS NOT NULL
                THEN hash('stock', stock_ref, closed_on, CASE WHEN sold_on IS NULL THEN venue END)
        END AS stock_key
    FROM current_rows
),
crowded_keys AS (
    SELECT listing_key FROM keyed WHERE listing_key IS NOT NULL GROUP BY listing_key HAVING count(*) > 1
    UNION
    SELECT stock_key FROM keyed WHERE stock_key IS NOT NULL GROUP BY stock_key HAVING count(*) > 1
),
uses AS (
    SELECT row_id, listing_key AS key FROM keyed WHERE listing_key IN (FROM crowded_keys)
    UNION ALL
    SELECT row_id, stock_key FROM keyed WHERE stock_key IN (FROM crowded_keys)
),
ambiguous_keys AS (
    SELECT DISTINCT key
    FROM uses
    INNER JOIN current_rows ON uses.row_id = current_rows.row_id
    GROUP BY file_sha256, key
    HAVING count(DISTINCT title) > 1 OR count(DISTINCT price_native) > 1 OR count(DISTINCT size_label) > 1
)
SELECT
    keyed.row_id,
    coalesce(row_keys.row_key, keyed.node) AS node,
    CASE WHEN listing_key NOT IN (FROM ambiguous_keys) THEN listing_key END AS listing_key,
    CASE WHEN stock_key NOT IN (FROM ambiguous_keys) THEN stock_key END AS stock_key,
    row_keys.row_key IS NULL AS is_plain
FROM keyed
LEFT JOIN row_keys ON keyed.row_id = row_keys.row_id
