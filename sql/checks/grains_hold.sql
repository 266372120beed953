-- grains_hold: the relations in which a key that is to be single occurs more than once.
-- grain: relation, key
-- reads: every table of the ledger
-- columns: relation VARCHAR, key VARCHAR
WITH keys AS (
    SELECT 'sales' AS relation, record_id AS key FROM sales
    UNION ALL
    SELECT 'source_files', file_sha256 FROM source_files
    UNION ALL
    SELECT 'runs', CAST(run_id AS VARCHAR) FROM runs
    UNION ALL
    SELECT 'run_files', concat_ws(' ', run_id, file_sha256) FROM run_files
    UNION ALL
    SELECT 'rulings', ruling_id FROM rulings
    UNION ALL
    SELECT 'price_flags', concat_ws(' ', record_id, flag) FROM price_flags
    UNION ALL
    SELECT 'unread_cells', concat_ws(' ', file_sha256, sheet, row_number, field) FROM unread_cells
    UNION ALL
    SELECT 'rows of files', concat_ws(' ', file_sha256, sheet, row_number, nullif(pair_number, 1)) FROM staged_rows
    UNION ALL
    SELECT 'rows of files', concat_ws(' ', file_sha256, sheet, row_number) FROM quarantine
    UNION ALL
    SELECT 'rows of files', concat_ws(' ', file_sha256, sheet, row_number) FROM stock_rows
    UNION ALL
    SELECT 'stock_lists', concat_ws(' ', file_sha256, listed_on, map_name) FROM stock_lists
    UNION ALL
    SELECT 'source_rows', CAST(row_id AS VARCHAR) FROM source_rows
    UNION ALL
    SELECT 'corrected_rows', CAST(row_id AS VARCHAR) FROM corrected_rows
    UNION ALL
    SELECT 'fits_made', CAST(fit_number AS VARCHAR) FROM fits_made
    UNION ALL
    SELECT 'fitted_sales', record_id FROM fitted_sales WHERE until_fit IS NULL
    UNION ALL
    SELECT 'priced_before', record_id FROM priced_before
    UNION ALL
    SELECT 'removed_rows', CAST(row_id AS VARCHAR) FROM removed_rows
    UNION ALL
    SELECT 'record_sources', concat_ws(' ', file_sha256, sheet, row_number, nullif(pair_number, 1)) FROM record_sources
)
SELECT relation, key
FROM keys
GROUP BY relation, key
HAVING count(*) > 1
