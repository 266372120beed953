-- contents: how many rows each table of the ledger holds, and a digest of them whatever their order.
-- grain: relation
-- reads: every table of the ledger
-- columns: relation VARCHAR, row_count BIGINT, digest HUGEINT
SELECT 'runs' AS relation, count(*) AS row_count, coalesce(sum(CAST(hash(runs) AS HUGEINT)), 0) AS digest FROM runs
UNION ALL
SELECT 'source_files', count(*), coalesce(sum(CAST(hash(source_files) AS HUGEINT)), 0) FROM source_files
UNION ALL
SELECT 'run_files', count(*), coalesce(sum(CAST(hash(run_files) AS HUGEINT)), 0) FROM run_files
UNION ALL
SELECT 'staged_rows', count(*), coalesce(sum(CAST(hash(staged_rows) AS HUGEINT)), 0) FROM staged_rows
UNION ALL
SELECT 'quarantine', count(*), coalesce(sum(CAST(hash(quarantine) AS HUGEINT)), 0) FROM quarantine
UNION ALL
SELECT 'unread_cells', count(*), coalesce(sum(CAST(hash(unread_cells) AS HUGEINT)), 0) FROM unread_cells
UNION ALL
SELECT 'settled_rows', count(*), coalesce(sum(CAST(hash(settled_rows) AS HUGEINT)), 0) FROM settled_rows
UNION ALL
SELECT 'settled_sales', count(*), coalesce(sum(CAST(hash(settled_sales) AS HUGEINT)), 0) FROM settled_sales
UNION ALL
SELECT 'pair_histories', count(*), coalesce(sum(CAST(hash(pair_histories) AS HUGEINT)), 0) FROM pair_histories
UNION ALL
SELECT 'rulings', count(*), coalesce(sum(CAST(hash(rulings) AS HUGEINT)), 0) FROM rulings
UNION ALL
SELECT 'price_flags', count(*), coalesce(sum(CAST(hash(price_flags) AS HUGEINT)), 0) FROM price_flags
UNION ALL
SELECT 'fits', count(*), coalesce(sum(CAST(hash(fits) AS HUGEINT)), 0) FROM fits
