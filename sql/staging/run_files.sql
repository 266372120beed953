-- run_files: keep what came of one file in a run.
-- grain: run_id, file_sha256
-- writes: run_files
INSERT INTO run_files BY NAME
SELECT
    $run_id AS run_id,
    $file_sha256 AS file_sha256,
    $file_name AS file_name,
    $rows_read AS rows_read,
    $recorded AS recorded,
    $duplicates AS duplicates,
    $quarantined AS quarantined,
    $put_aside AS put_aside,
    $further_pairs AS further_pairs
