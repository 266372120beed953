-- short_ids: how many signs of each key tell it from all other keys: six, or as many more as are needed.
-- grain: row_key
-- reads: incoming (row_key), current_rows, settled_rows
-- columns: row_key VARCHAR, signs INTEGER
-- Keys are found as the numbers that they are, of which the first six signs are 24 bits. The name of a removed file, which
-- is longer, is compared by its beginning.
WITH known AS (
    SELECT coalesce(settled_rows.row_key, current_rows.node) AS key
    FROM current_rows
    LEFT JOIN settled_rows ON current_rows.row_id = settled_rows.row_id
),
wanted AS (
    SELECT DISTINCT row_key, TRY_CAST('0x' || left(row_key, 16) AS UBIGINT) AS key
    FROM incoming
),
alike AS (
    SELECT DISTINCT wanted.row_key, format('{:016x}', known.key) AS other_key
    FROM known
    INNER JOIN wanted ON known.key >> 40 = wanted.key >> 40 AND known.key <> wanted.key
)
SELECT
    wanted.row_key,
    CAST(max(CASE
        WHEN other_key IS NULL THEN 6
        ELSE list_filter(range(6, 17), lambda signs: left(wanted.row_key, signs) <> left(other_key, signs))[1]
    END) AS INTEGER) AS signs
FROM wanted
LEFT JOIN alike ON wanted.row_key = alike.row_key
GROUP BY wanted.row_key
