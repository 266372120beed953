-- contents: how many rows one table of the ledger holds, and a digest of them whatever their order.
-- grain: one row
-- reads: the table named by $relation, or schema_version where that is null
-- columns: row_count BIGINT, digest HUGEINT
-- binds: relation
SELECT
    count(*) AS row_count,
    coalesce(sum(CAST(hash(record) AS HUGEINT)), 0) AS digest
FROM query_table(coalesce($relation, 'schema_version')) AS record
