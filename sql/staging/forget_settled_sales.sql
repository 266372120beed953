-- forget_settled_sales: clear the table before it is derived again.
-- writes: settled_sales
TRUNCATE settled_sales
