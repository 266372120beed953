-- forget_sales: make room for the sales derived anew.
-- writes: sales
TRUNCATE sales
