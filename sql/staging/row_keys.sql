-- row_keys: what staged rows are known by, where that is not simply their node.
-- grain: row_id
-- reads: staged_rows, removed_rows
-- binds: only_removed (whether only rows that were removed, and those of their nodes, are wanted)
-- columns: row_id BIGINT, row_key UBIGINT
-- What one file itself uses for rows of different titles, prices or sizes distinguishes nothing: such rows are known by
-- all that they say as well, and rows without a number by all that they say and by their count among the equal rows of
-- their file. It rests on what was read and never on what the owner has made of it, so that no decision changes what a
-- row is known by.
CREATE OR REPLACE TEMP TABLE row_keys AS
WITH read AS (
    SELECT
        row_id,
        file_sha256,
        node,
        own_number(lot_ref, stock_ref) IS NULL
        OR (sale_ref IS NULL AND closed_on IS NULL AND offered_on IS NULL) AS is_keyless
    FROM staged_rows
    WHERE
        NOT $only_removed
        OR node IN (SELECT node FROM staged_rows SEMI JOIN removed_rows ON staged_rows.row_id = removed_rows.row_id)
),
crowded_nodes AS (
    SELECT node FROM read WHERE NOT is_keyless GROUP BY node HAVING count(*) > 1
),
ambiguous_nodes AS (
    SELECT DISTINCT node
    FROM staged_rows
    WHERE node IN (FROM crowded_nodes)
    GROUP BY file_sha256, node
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
        unclear.node AS plain_node,
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
        row_id,
        plain_node,
        CASE
            WHEN occurrence > 1 THEN md5_number_lower(node || chr(31) || occurrence)
            ELSE node
        END AS row_key
    FROM cleared
)
SELECT row_id, row_key
FROM named
WHERE row_key <> plain_node
