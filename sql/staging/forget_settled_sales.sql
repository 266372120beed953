-- forget_settled_sales: make room for those derived anew.
-- writes: settled_sales
TRUNCATE settled_sales
