-- known_file: what was kept of one file when it was last read. waits_for is the first day on which a row
-- of a sale still to come is of one that took place.
-- grain: file_sha256
-- reads: source_files, runs, quarantine
-- columns: file_name VARCHAR, reading_digest VARCHAR, rows_read BIGINT, waits_for DATE
WITH waiting AS (
    SELECT file_sha256, try_cast(value AS DATE) AS sold_on
    FROM quarantine
    WHERE file_sha256 = $file_sha256 AND field = 'sold_on'
)

SELECT
    source_files.file_name,
    source_files.reading_digest,
    source_files.rows_read,
    (SELECT min(waiting.sold_on) FROM waiting WHERE waiting.sold_on > runs.as_of) AS waits_for
FROM source_files
LEFT JOIN runs ON source_files.run_id = runs.run_id
WHERE source_files.file_sha256 = $file_sha256
