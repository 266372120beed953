-- desk_state: how many records the ledger holds, and how many sales are excluded pending review; one row.
-- grain: desk_state
-- reads: sales
-- columns: records BIGINT, excluded BIGINT
SELECT
    count(*) AS records,
    count(*) FILTER (WHERE status = 'sold' AND held_out) AS excluded
FROM sales
