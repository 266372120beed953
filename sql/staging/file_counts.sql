-- file_counts: what came of the rows of one file. Recorded are the sales that no other file tells of.
-- grain: one row
-- reads: source_files, record_sources, quarantine
-- columns: rows_read BIGINT, recorded BIGINT, duplicates BIGINT, quarantined BIGINT
WITH own AS (
    SELECT record_id FROM record_sources WHERE file_sha256 = $file_sha256
),
shared AS (
    SELECT DISTINCT record_id FROM record_sources WHERE file_sha256 <> $file_sha256
),
counted AS (
    SELECT
        (SELECT rows_read FROM source_files WHERE file_sha256 = $file_sha256) AS rows_read,
        (SELECT count(DISTINCT record_id) FROM own WHERE record_id NOT IN (FROM shared)) AS recorded,
        (SELECT count(*) FROM own) AS staged,
        (SELECT count(*) FROM quarantine WHERE file_sha256 = $file_sha256) AS quarantined
)
SELECT rows_read, recorded, staged - recorded AS duplicates, quarantined
FROM counted
