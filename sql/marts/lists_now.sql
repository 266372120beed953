-- lists_now: the latest stock list of each map up to a day, and the day of the one before it.
-- grain: map_name
-- reads: counting_lists, source_files, quarantine
-- binds: as_of
-- columns: map_name VARCHAR, file_name VARCHAR, listed_on DATE, before_on DATE, refused BIGINT
-- refused: its rows that could not be read.
WITH latest AS (
    SELECT
        map_name,
        listed_on,
        file_sha256,
        lag(listed_on) OVER (PARTITION BY map_name ORDER BY listed_on) AS before_on
    FROM counting_lists
    WHERE listed_on <= CAST($as_of AS DATE)
    QUALIFY row_number() OVER (PARTITION BY map_name ORDER BY listed_on DESC) = 1
)
SELECT
    latest.map_name,
    source_files.file_name,
    latest.listed_on,
    latest.before_on,
    (
        SELECT count(*)
        FROM quarantine
        WHERE quarantine.file_sha256 = latest.file_sha256 AND NOT is_put_aside(field)
    ) AS refused
FROM latest
INNER JOIN source_files ON latest.file_sha256 = source_files.file_sha256
ORDER BY latest.map_name
