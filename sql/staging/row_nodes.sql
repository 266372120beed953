-- row_nodes: what each staged row by itself is known by, and the keys that may link it to other rows.
-- grain: row_id (the row's place in staged_rows)
-- reads: staged_rows
-- columns: row_id BIGINT, node UBIGINT, listing_key UBIGINT, stock_key UBIGINT
-- A key that one file itself uses for rows of different titles, prices or sizes tells nothing apart; such
-- rows are the same only where all that they say is the same. Rows without any key are known by all that
-- they say, and by their number among the equal rows of their file.
CREATE OR REPLACE TEMP TABLE row_nodes AS
WITH keyed AS (
    SELECT rowid AS row_id, file_sha256, lot_key AS key, title, price_native, size_label
    FROM staged_rows
    WHERE lot_key IN (SELECT lot_key FROM staged_rows GROUP BY lot_key HAVING count(*) > 1)
    UNION ALL
    SELECT rowid, file_sha256, listing_key, title, price_native, size_label
    FROM staged_rows
    WHERE listing_key IN (SELECT listing_key FROM staged_rows GROUP BY listing_key HAVING count(*) > 1)
    UNION ALL
    SELECT rowid, file_sha256, stock_key, title, price_native, size_label
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
        rowid AS row_id,
        file_sha256,
        lot_key,
        lot_key IN (FROM ambiguous) AS lot_is_ambiguous,
        CASE WHEN listing_key NOT IN (FROM ambiguous) THEN listing_key END AS listing_key,
        CASE WHEN stock_key NOT IN (FROM ambiguous) THEN stock_key END AS stock_key
    FROM staged_rows
),
unnamed AS (
    SELECT
        row_id,
        file_sha256,
        CASE WHEN lot_is_ambiguous THEN lot_key END AS lot_key
    FROM judged
    WHERE lot_is_ambiguous OR coalesce(lot_key, listing_key, stock_key) IS NULL
),
contents AS (
    SELECT unnamed.row_id, unnamed.file_sha256, unnamed.lot_key, content_key(staged_rows) AS content_key
    FROM unnamed
    INNER JOIN staged_rows ON unnamed.row_id = staged_rows.rowid
),
told AS (
    SELECT
        row_id,
        lot_key,
        content_key,
        row_number() OVER (PARTITION BY file_sha256, content_key ORDER BY row_id) AS occurrence
    FROM contents
),
named AS (
    SELECT
        row_id,
        CASE
            WHEN lot_key IS NOT NULL THEN md5_number_lower(lot_key || chr(31) || content_key)
            WHEN occurrence = 1 THEN content_key
            ELSE md5_number_lower(content_key || chr(31) || occurrence)
        END AS node
    FROM told
)
SELECT
    judged.row_id,
    coalesce(node, lot_key, listing_key, stock_key) AS node,
    listing_key,
    stock_key
FROM judged
LEFT JOIN named ON judged.row_id = named.row_id
