-- row_nodes: what each staged row by itself is known by, and the keys that may link it to other rows.
-- grain: row_id
-- reads: staged_rows
-- columns: row_id BIGINT, node UBIGINT, listing_key UBIGINT, stock_key UBIGINT, is_plain BOOLEAN
-- A key that one file itself uses for rows of different titles, prices or sizes tells nothing apart; such
-- rows are the same only where all that they say is the same. Rows without any key are known by all that
-- they say, and by their number among the equal rows of their file. A row is plain where its node is that of
-- staged_rows.
CREATE OR REPLACE TEMP TABLE row_nodes AS
WITH keyed AS (
    SELECT file_sha256, lot_key AS key, title, price_native, size_label
    FROM staged_rows
    WHERE lot_key IN (SELECT lot_key FROM staged_rows GROUP BY lot_key HAVING count(*) > 1)
    UNION ALL
    SELECT file_sha256, listing_key, title, price_native, size_label
    FROM staged_rows
    WHERE listing_key IN (SELECT listing_key FROM staged_rows GROUP BY listing_key HAVING count(*) > 1)
    UNION ALL
    SELECT file_sha256, stock_key, title, price_native, size_label
    FROM staged_rows
    WHERE stock_key IN (SELECT stock_key FROM staged_rows GROUP BY stock_key HAVING count(*) > 1)
),
ambiguous AS (
    SELECT DISTINCT key
    FROM keyed
    GROUP BY file_sha256, key
    HAVING count(DISTINCT title) > 1 OR count(DISTINCT price_native) > 1 OR count(DISTINCT size_label) > 1
),
judged AS (
    SELECT
        row_id,
        node AS plain_node,
        lot_key,
        lot_key IN (FROM ambiguous) AS lot_is_ambiguous,
        CASE WHEN listing_key NOT IN (FROM ambiguous) THEN listing_key END AS listing_key,
        CASE WHEN stock_key NOT IN (FROM ambiguous) THEN stock_key END AS stock_key
    FROM staged_rows
),
keyless AS (
    SELECT plain_node AS node
    FROM judged
    WHERE coalesce(lot_key, listing_key, stock_key) IS NULL
    GROUP BY plain_node
    HAVING count(*) > 1
),
unclear AS (
    SELECT row_id, CASE WHEN lot_is_ambiguous THEN lot_key END AS lot_key
    FROM judged
    WHERE
        lot_is_ambiguous
        OR (
            coalesce(lot_key, listing_key, stock_key) IS NULL
            AND (plain_node IN (FROM keyless) OR plain_node IN (FROM ambiguous))
        )
),
contents AS (
    SELECT unclear.row_id, unclear.lot_key, file_sha256, content_key(staged_rows) AS content_key
    FROM unclear
    INNER JOIN staged_rows ON unclear.row_id = staged_rows.row_id
),
numbered AS (
    SELECT
        row_id,
        lot_key,
        content_key,
        row_number() OVER (PARTITION BY file_sha256, content_key ORDER BY row_id) AS occurrence
    FROM contents
),
cleared AS (
    SELECT
        row_id,
        CASE
            WHEN lot_key IS NOT NULL THEN md5_number_lower(lot_key || chr(31) || content_key)
            WHEN occurrence = 1 THEN content_key
            ELSE md5_number_lower(content_key || chr(31) || occurrence)
        END AS node
    FROM numbered
),
named AS (
    SELECT
        judged.row_id,
        plain_node,
        coalesce(cleared.node, judged.lot_key, listing_key, stock_key, plain_node) AS node,
        listing_key,
        stock_key
    FROM judged
    LEFT JOIN cleared ON judged.row_id = cleared.row_id
)
SELECT
    row_id,
    node,
    listing_key,
    stock_key,
    node = plain_node AS is_plain
FROM named
