-- json_cells: the values at the given pointers in each object (null where there is none), as text; lists stay JSON arrays.
-- grain: row_number
-- reads: objects (row_number, object)
-- columns: row_number BIGINT, parts VARCHAR[]
SELECT row_number, json_extract_string(object, CAST($pointers AS VARCHAR[])) AS parts
FROM objects
ORDER BY row_number
