-- fields: how many rows hold each value of the fields that are words, lists or origins; and of the other fields, how
-- many hold any.
-- grain: field, value
-- reads: current_rows
-- binds: file_sha256 (NULL for all files), words (the fields whose values are counted), plain (those of which only the rows are; both NULL for all columns)
-- columns: field VARCHAR, value VARCHAR, row_count BIGINT
-- A list counts for each of its entries, an empty one as 'none'. `value` is NULL for the fields of `plain`.
WITH file_rows AS NOT MATERIALIZED (
    SELECT *
    FROM current_rows
    WHERE $file_sha256 IS NULL OR file_sha256 = $file_sha256
),
words AS (
    SELECT CAST(COLUMNS(lambda name: $words IS NULL OR list_contains($words, name)) AS VARCHAR), count(*) AS row_count
    FROM file_rows
    GROUP BY ALL
),
origins AS (
    SELECT COLUMNS('_origin$'), count(*) AS row_count
    FROM file_rows
    GROUP BY ALL
),
plain AS (
    SELECT count(COLUMNS(lambda name: $plain IS NULL OR list_contains($plain, name)))
    FROM file_rows
),
lists AS (
    SELECT parts, defects, treatments, count(*) AS row_count
    FROM file_rows
    GROUP BY ALL
),
entries AS (
    SELECT field, unnest(CASE WHEN len(entries) = 0 THEN ['none'] ELSE entries END) AS value, row_count
    FROM (UNPIVOT lists ON parts, defects, treatments INTO NAME field VALUE entries)
)
SELECT field, value, CAST(sum(row_count) AS BIGINT) AS row_count
FROM (UNPIVOT words ON COLUMNS(* EXCLUDE (row_count)) INTO NAME field VALUE value)
GROUP BY field, value
UNION ALL
SELECT field, value, CAST(sum(row_count) AS BIGINT)
FROM (UNPIVOT origins ON COLUMNS('_origin$') INTO NAME field VALUE value)
GROUP BY field, value
UNION ALL
SELECT field, value, CAST(sum(row_count) AS BIGINT)
FROM entries
GROUP BY field, value
UNION ALL
SELECT field, NULL, row_count
FROM (UNPIVOT plain ON COLUMNS(*) INTO NAME field VALUE row_count)
