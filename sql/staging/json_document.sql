-- json_document: an export that is one JSON object, if it is that.
-- grain: row_number
-- reads: incoming (row_number, line): one row, the whole text
-- columns: row_number BIGINT, line VARCHAR, object VARCHAR
SELECT CAST(row_number AS BIGINT) AS row_number, line, line AS object
FROM incoming
WHERE json_valid(line) AND json_type(line) = 'OBJECT'
