-- runs_are_conserved: the files of runs of which rows read are not recorded + duplicates + quarantined + put aside.
-- grain: run_id, file_sha256
-- reads: run_files
-- columns: run_id INTEGER, file_name VARCHAR, rows_read BIGINT, recorded BIGINT, duplicates BIGINT, quarantined BIGINT, put_aside BIGINT
SELECT run_id, file_name, rows_read, recorded, duplicates, quarantined, put_aside
FROM run_files
WHERE
    rows_read + further_pairs <> recorded + duplicates + quarantined + put_aside
    OR least(recorded, duplicates, quarantined, put_aside) < 0
