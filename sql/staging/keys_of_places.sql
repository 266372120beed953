-- keys_of_places: the keys of the rows that are meant by their key or else by where they stand in a file of that name.
-- Where it is not said which pair of a row is meant, the row must be of one pair.
-- grain: row_key, file_name, sheet, row_number, pair_number
-- reads: incoming (row_key, file_name, sheet, row_number, pair_number), keyed_rows, source_files
-- columns: row_key VARCHAR, file_name VARCHAR, sheet VARCHAR, row_number BIGINT, pair_number BIGINT, key_now VARCHAR
WITH wanted AS (
    SELECT DISTINCT row_key, file_name, sheet, row_number, pair_number
    FROM incoming
),
keyed AS (
    SELECT
        format('{:016x}', row_key) AS key_now,
        file_name,
        sheet,
        row_number,
        pair_number
    FROM keyed_rows
    INNER JOIN source_files ON keyed_rows.file_sha256 = source_files.file_sha256
),
by_key AS (
    SELECT DISTINCT key_now FROM keyed WHERE key_now IN (SELECT row_key FROM wanted)
),
by_place AS (
    SELECT
        file_name,
        sheet,
        row_number,
        pair_number,
        min(key_now) AS key_now,
        max(pair_number) OVER (PARTITION BY file_name, sheet, row_number) AS pairs
    FROM keyed
    WHERE (file_name, sheet, row_number) IN (SELECT (file_name, sheet, row_number) FROM wanted)
    GROUP BY file_name, sheet, row_number, pair_number
)
SELECT
    wanted.row_key,
    wanted.file_name,
    wanted.sheet,
    wanted.row_number,
    CAST(wanted.pair_number AS BIGINT) AS pair_number,
    coalesce(by_key.key_now, by_place.key_now) AS key_now
FROM wanted
LEFT JOIN by_key ON wanted.row_key = by_key.key_now
LEFT JOIN by_place
    ON wanted.file_name = by_place.file_name
    AND wanted.sheet = by_place.sheet
    AND wanted.row_number = by_place.row_number
    AND coalesce(wanted.pair_number = by_place.pair_number, by_place.pairs = 1)
