-- held_out_sales: how many sold records are excluded from the fit pending review; one row.
-- grain: held_out_sales
-- reads: sales
-- columns: held_out_sales BIGINT
SELECT count(*) AS held_out_sales
FROM sales
WHERE status = 'sold' AND held_out
