-- every_row_is_staged: what is kept of rows that are not among the staged ones.
-- grain: relation, row_id
-- reads: source_rows, corrected_rows, removed_rows, staged_rows
-- columns: relation VARCHAR, row_id BIGINT
WITH named AS (
    SELECT 'source_rows' AS relation, row_id FROM source_rows
    UNION ALL
    SELECT 'corrected_rows', row_id FROM corrected_rows
    UNION ALL
    SELECT 'removed_rows', row_id FROM removed_rows
)
SELECT relation, named.row_id
FROM named
ANTI JOIN staged_rows ON named.row_id = staged_rows.row_id
