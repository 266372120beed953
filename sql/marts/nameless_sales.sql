-- nameless_sales: how many sold records have no silhouette, so that no fit can price them; one row.
-- grain: nameless_sales
-- reads: sales
-- columns: nameless_sales BIGINT
SELECT count(*) AS nameless_sales
FROM sales
WHERE status = 'sold' AND silhouette IS NULL
