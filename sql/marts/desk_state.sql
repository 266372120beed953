-- desk_state: how many records the ledger holds; one row.
-- grain: desk_state
-- reads: sales
-- columns: records BIGINT
SELECT count(*) AS records
FROM sales
