-- json_shapes: the shapes of the objects (key → type, nested), each once, in the order of their first occurrence.
-- grain: shape
-- reads: objects (row_number, object)
-- columns: shape VARCHAR
WITH shapes AS (
    SELECT CAST(json_structure(object) AS VARCHAR) AS shape, min(row_number) AS first_row
    FROM objects
    WHERE object IS NOT NULL
    GROUP BY ALL
)
SELECT shape
FROM shapes
ORDER BY first_row
