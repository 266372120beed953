-- changes_of_sales: what has happened to the rows of sales since a fit.
-- grain: record_id
-- reads: incoming (record_id), row_records, run_files, source_files, rulings
-- binds: run_id, ruling_number (the last of each before that fit)
-- columns: record_id VARCHAR, is_added BOOLEAN, is_decided BOOLEAN, is_new_file BOOLEAN, is_read_again BOOLEAN
-- Added: by hand since. Decided: the owner has decided something of it since. New file: a row of it is of a file that
-- was read for the first time since. Read again: a row of it is of a file that was known, and read in another way since.
WITH said AS (
    SELECT kind, field, unnest([record_id, other_id]) AS key
    FROM rulings
    WHERE ruling_number > $ruling_number
),
decided AS (
    SELECT TRY_CAST('0x' || key AS UBIGINT) AS row_key, bool_or(kind = 'add') AS is_added
    FROM said
    WHERE key IS NOT NULL AND field IS DISTINCT FROM 'file'
    GROUP BY key
),
removed AS (
    SELECT key AS file_sha256 FROM said WHERE field = 'file'
),
files AS (
    SELECT
        file_sha256,
        min(run_files.run_id) > $run_id AS is_new_file,
        min(run_files.run_id) <= $run_id AND any_value(source_files.run_id) > $run_id AS is_read_again
    FROM source_files
    INNER JOIN run_files USING (file_sha256)
    GROUP BY file_sha256
)
SELECT
    incoming.record_id,
    coalesce(bool_or(decided.is_added), FALSE) AS is_added,
    coalesce(bool_or(decided.row_key IS NOT NULL OR removed.file_sha256 IS NOT NULL), FALSE) AS is_decided,
    coalesce(bool_or(files.is_new_file), FALSE) AS is_new_file,
    coalesce(bool_or(files.is_read_again), FALSE) AS is_read_again
FROM incoming
LEFT JOIN row_records ON CAST('0x' || incoming.record_id AS UBIGINT) = row_records.record_key
LEFT JOIN decided ON row_records.row_key = decided.row_key
LEFT JOIN removed ON row_records.file_sha256 = removed.file_sha256
LEFT JOIN files ON row_records.file_sha256 = files.file_sha256
GROUP BY incoming.record_id
ORDER BY incoming.record_id
