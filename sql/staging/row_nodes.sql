-- row_nodes: what each current row by itself is known by, and the keys that may link it to other rows.
-- grain: row_id
-- reads: staged_rows, current_rows
-- columns: row_id BIGINT, node UBIGINT, listing_key UBIGINT, stock_key UBIGINT, is_plain BOOLEAN
-- One number at one venue, first offered on one day, is one listing; one stock number whose offer ended on one day is
-- one sale, wherever it is recorded (where it was not sold: at one venue). What one file itself uses for rows of
-- different titles, prices or sizes distinguishes nothing: such rows are the same only where all that they say is the
-- same. Rows without a number are known by all that they say, and by their count among the equal rows of their file.
-- A row is plain where its node is that of staged_rows. The node rests on what was read, the keys on what the owner has
-- made of it, so that a correction may link rows and never changes what a row is known by.
CREATE OR REPLACE TEMP TABLE row_nodes AS
WITH read AS (
    SELECT
        row_id,
        file_sha256,
        node,
        own_number(lot_ref, stock_ref) IS NULL
        OR (sale_ref IS NULL AND closed_on IS NULL AND offered_on IS NULL) AS is_keyless
    FROM staged_rows
),
keyed AS (
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
crowded_nodes AS (
    SELECT node FROM read WHERE NOT is_keyless GROUP BY node HAVING count(*) > 1
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
ambiguous_nodes AS (
    SELECT DISTINCT node
    FROM staged_rows
    WHERE node IN (FROM crowded_nodes)
    GROUP BY file_sha256, node
    HAVING count(DISTINCT title) > 1 OR count(DISTINCT price_native) > 1 OR count(DISTINCT size_label) > 1
),
ambiguous_keys AS (
    SELECT DISTINCT key
    FROM uses
    INNER JOIN current_rows ON uses.row_id = current_rows.row_id
    GROUP BY file_sha256, key
    HAVING count(DISTINCT title) > 1 OR count(DISTINCT price_native) > 1 OR count(DISTINCT size_label) > 1
),
repeated AS (
    SELECT node FROM read WHERE is_keyless GROUP BY node HAVING count(*) > 1
),
unclear AS (
    SELECT row_id, file_sha256, node, is_keyless
    FROM read
    WHERE node IN (FROM ambiguous_nodes) OR node IN (FROM repeated)
),
cleared AS (
    SELECT
        unclear.row_id,
        CASE
            WHEN NOT unclear.is_keyless
                THEN md5_number_lower(unclear.node || chr(31) || content_key(staged_rows))
            ELSE unclear.node
        END AS node,
        CASE
            WHEN unclear.is_keyless
                THEN row_number() OVER (
                    PARTITION BY unclear.file_sha256, unclear.node ORDER BY unclear.row_id
                )
        END AS occurrence
    FROM unclear
    INNER JOIN staged_rows ON unclear.row_id = staged_rows.row_id
),
named AS (
    SELECT
        keyed.row_id,
        keyed.node AS plain_node,
        CASE
            WHEN cleared.occurrence > 1 THEN md5_number_lower(cleared.node || chr(31) || cleared.occurrence)
            ELSE coalesce(cleared.node, keyed.node)
        END AS node,
        CASE WHEN listing_key NOT IN (FROM ambiguous_keys) THEN listing_key END AS listing_key,
        CASE WHEN stock_key NOT IN (FROM ambiguous_keys) THEN stock_key END AS stock_key
    FROM keyed
    LEFT JOIN cleared ON keyed.row_id = cleared.row_id
)
SELECT
    row_id,
    node,
    listing_key,
    stock_key,
    node = plain_node AS is_plain
FROM named
