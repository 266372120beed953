-- short_ids: how many signs of each key tell it from all other keys: six, or as many more as are needed.
-- grain: row_key
-- reads: incoming (row_key), record_sources
-- columns: row_key VARCHAR, signs INTEGER
WITH known AS (
    SELECT DISTINCT row_key, left(row_key, 6) AS beginning FROM record_sources
),
wanted AS (
    SELECT DISTINCT row_key, left(row_key, 6) AS beginning FROM incoming
)
SELECT
    wanted.row_key,
    CAST(max(CASE
        WHEN known.row_key IS NULL THEN 6
        ELSE list_filter(range(6, 17), lambda signs: left(wanted.row_key, signs) <> left(known.row_key, signs))[1]
    END) AS INTEGER) AS signs
FROM wanted
LEFT JOIN known ON wanted.beginning = known.beginning AND wanted.row_key <> known.row_key
GROUP BY wanted.row_key
