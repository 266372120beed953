-- levels: the combinations of values that each of some sets of columns takes in the records of each stage.
-- grain: one row a set and a distinct combination of its columns (of c1, c2, ...), and stage where there are several.
-- reads: records (these columns only).
-- columns: c1, c2, ..., stage, records_behind, left_out (which of the columns the set does not have, as bits).
-- The parts in braces hold none but these names.
SELECT
    {columns}
    count(*) AS records_behind,
    {left_out} AS left_out
FROM records
GROUP BY GROUPING SETS ({sets})
