-- replaced_files: keep that a file took the place of an earlier reading, before that is forgotten.
-- grain: one row a reading that was replaced
-- reads: source_files
-- writes: replaced_files
INSERT INTO replaced_files BY NAME
SELECT
    file_sha256,
    file_name,
    map_name,
    rows_read,
    run_id,
    $replaced_by AS replaced_by,
    $replaced_in AS replaced_in,
    $unchanged AS unchanged,
    $changed AS changed,
    $gone AS gone
FROM source_files
WHERE file_sha256 = $file_sha256
