-- json_keys: the keys that occur in the objects, in the order of their first occurrence.
-- grain: key
-- reads: objects (row_number, object)
-- columns: key VARCHAR
WITH shapes AS (
    SELECT json_keys(object) AS keys, min(row_number) AS first_row
    FROM objects
    WHERE object IS NOT NULL
    GROUP BY ALL
),
places AS (
    SELECT unnest(keys) AS key, generate_subscripts(keys, 1) AS place, first_row
    FROM shapes
)
SELECT key
FROM places
GROUP BY key
ORDER BY min((first_row, place))
