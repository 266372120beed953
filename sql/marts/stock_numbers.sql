-- stock_numbers: the stock numbers of lists, sales and kept values that are written so, in whatever case.
-- grain: number
-- reads: stock_rows, sales, kept_values
-- binds: said
-- columns: number VARCHAR
WITH known AS (
    SELECT stock_ref FROM stock_rows
    UNION
    SELECT stock_ref FROM sales
    UNION
    SELECT stock_ref FROM kept_values
)
SELECT stock_ref AS number
FROM known
WHERE lower(stock_ref) = lower($said)
ORDER BY stock_ref = $said DESC, stock_ref
