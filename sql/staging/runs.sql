-- runs: keep that a run has changed something.
-- grain: run_id
-- writes: runs
INSERT INTO runs BY NAME
SELECT
    $run_id AS run_id,
    $loaded_at AS loaded_at,
    $as_of AS as_of,
    $program_version AS program_version
WHERE $run_id NOT IN (SELECT run_id FROM runs)
