-- known_readings: the files that were read, each with what came of its last reading. replaced_by names the file that took
-- the place of one that no longer counts.
-- grain: file_sha256
-- reads: source_files, runs, run_files, quarantine, unread_cells, replaced_files
-- columns: file_sha256 VARCHAR, file_name VARCHAR, map_name VARCHAR, reading_digest VARCHAR, read_at TIMESTAMP, rows_read BIGINT, recorded BIGINT, duplicates BIGINT, quarantined BIGINT, put_aside BIGINT, unread BIGINT, replaced_by VARCHAR
WITH last_counts AS (
    SELECT
        file_sha256,
        arg_max(recorded, run_id) AS recorded,
        arg_max(duplicates, run_id) AS duplicates
    FROM run_files
    GROUP BY file_sha256
),
aside AS (
    SELECT
        file_sha256,
        count(*) FILTER (NOT is_put_aside(field)) AS quarantined,
        count(*) FILTER (is_put_aside(field)) AS put_aside
    FROM quarantine
    GROUP BY file_sha256
),
unread AS (
    SELECT file_sha256, count(*) AS unread
    FROM unread_cells
    GROUP BY file_sha256
),
present AS (
    SELECT
        source_files.file_sha256,
        source_files.file_name,
        source_files.map_name,
        source_files.reading_digest,
        runs.loaded_at AS read_at,
        source_files.rows_read,
        coalesce(last_counts.recorded, 0) AS recorded,
        coalesce(last_counts.duplicates, 0) AS duplicates,
        coalesce(aside.quarantined, 0) AS quarantined,
        coalesce(aside.put_aside, 0) AS put_aside,
        coalesce(unread.unread, 0) AS unread,
        CAST(NULL AS VARCHAR) AS replaced_by
    FROM source_files
    LEFT JOIN runs ON source_files.run_id = runs.run_id
    LEFT JOIN last_counts ON source_files.file_sha256 = last_counts.file_sha256
    LEFT JOIN aside ON source_files.file_sha256 = aside.file_sha256
    LEFT JOIN unread ON source_files.file_sha256 = unread.file_sha256
    WHERE source_files.file_sha256 <> 'by hand'
),
replaced AS (
    SELECT
        replaced_files.file_sha256,
        arg_max(replaced_files.file_name, replaced_in) AS file_name,
        arg_max(replaced_files.map_name, replaced_in) AS map_name,
        CAST(NULL AS VARCHAR) AS reading_digest,
        CAST(NULL AS TIMESTAMP) AS read_at,
        arg_max(replaced_files.rows_read, replaced_in) AS rows_read,
        CAST(0 AS BIGINT) AS recorded,
        CAST(0 AS BIGINT) AS duplicates,
        CAST(0 AS BIGINT) AS quarantined,
        CAST(0 AS BIGINT) AS put_aside,
        CAST(0 AS BIGINT) AS unread,
        coalesce(arg_max(source_files.file_name, replaced_in), 'a later version') AS replaced_by
    FROM replaced_files
    LEFT JOIN source_files ON replaced_files.replaced_by = source_files.file_sha256
    WHERE replaced_files.file_sha256 NOT IN (SELECT file_sha256 FROM source_files)
    GROUP BY replaced_files.file_sha256
)
FROM present
UNION ALL BY NAME
FROM replaced
ORDER BY read_at, file_name, file_sha256
