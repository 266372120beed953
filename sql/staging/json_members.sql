-- json_members: the members of the list at a pointer in each object; one without an object where there are none.
-- grain: row_number
-- reads: objects (row_number, line, object)
-- columns: parent BIGINT, row_number BIGINT, line VARCHAR, object VARCHAR, is_empty BOOLEAN
WITH lists AS (
    SELECT
        row_number AS parent,
        line,
        json_extract(object, CAST($pointer AS VARCHAR)) AS list
    FROM objects
),
filled AS (
    SELECT
        parent,
        line,
        CASE
            WHEN json_type(list) = 'ARRAY' AND json_array_length(list) > 0 THEN json_extract(list, '$[*]')
            ELSE [CAST(NULL AS JSON)]
        END AS members
    FROM lists
),
members AS (
    SELECT parent, line, unnest(members) AS member, generate_subscripts(members, 1) AS place
    FROM filled
)
SELECT
    parent,
    row_number() OVER (ORDER BY parent, place) AS row_number,
    CASE WHEN member IS NULL THEN line ELSE CAST(member AS VARCHAR) END AS line,
    CASE WHEN json_type(member) = 'OBJECT' THEN CAST(member AS VARCHAR) END AS object,
    member IS NULL AND json_valid(line) AND json_type(line) = 'OBJECT' AS is_empty
FROM members
ORDER BY row_number
