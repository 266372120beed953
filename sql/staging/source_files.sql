-- source_files: keep that a file has been read, by which map, and how many rows it held.
-- grain: file_sha256
-- writes: source_files
INSERT INTO source_files BY NAME
SELECT
    $file_sha256 AS file_sha256,
    $file_name AS file_name,
    $map_name AS map_name,
    $reading_digest AS reading_digest,
    $size_bytes AS size_bytes,
    $rows_read AS rows_read,
    $run_id AS run_id
