-- json_lines: the lines of a JSON-lines export, each with its object (null where it is none).
-- grain: row_number
-- reads: incoming (row_number, line)
-- columns: row_number BIGINT, line VARCHAR, object VARCHAR
SELECT
    CAST(row_number AS BIGINT) AS row_number,
    line,
    CASE WHEN json_valid(line) AND json_type(line) = 'OBJECT' THEN line END AS object
FROM incoming
WHERE trim(line) <> ''
