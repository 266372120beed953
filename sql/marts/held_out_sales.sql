-- What:    how many sold records are kept out of the fit until the owner rules
-- Grain:   one row
-- Reads:   sales
-- Columns: held_out_sales
SELECT count(*) AS held_out_sales
FROM sales
WHERE status = 'sold' AND held_out
