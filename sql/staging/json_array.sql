-- json_array: the members of an export that is one JSON array, each with its object (null where it is none).
-- grain: row_number
-- reads: incoming (row_number, line): one row, the whole text
-- columns: row_number BIGINT, line VARCHAR, object VARCHAR
WITH members AS (
    SELECT unnest(json_extract(line, '$[*]')) AS member
    FROM incoming
    WHERE json_valid(line) AND json_type(line) = 'ARRAY'
)
SELECT
    row_number() OVER () AS row_number,
    CAST(member AS VARCHAR) AS line,
    CASE WHEN json_type(member) = 'OBJECT' THEN CAST(member AS VARCHAR) END AS object
FROM members
