-- json_entries: the values of the object at a pointer, each with its key, in their order.
-- grain: row_number
-- reads: objects (object): one row, the whole document
-- columns: row_number BIGINT, line VARCHAR, object VARCHAR, key VARCHAR
WITH keyed AS (
    SELECT
        json_extract(object, CAST($pointer AS VARCHAR)) AS whole,
        json_keys(object, CAST($pointer AS VARCHAR)) AS keys
    FROM objects
),
entries AS (
    SELECT whole, unnest(keys) AS key, generate_subscripts(keys, 1) AS place
    FROM keyed
),
found AS (
    SELECT
        key,
        place,
        CAST(json_extract(whole, '/' || replace(replace(key, '~', '~0'), '/', '~1')) AS VARCHAR) AS entry
    FROM entries
)
SELECT place AS row_number, entry AS line, entry AS object, key
FROM found
ORDER BY place
