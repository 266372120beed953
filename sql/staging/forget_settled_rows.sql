-- forget_settled_rows: make room for those derived anew.
-- writes: settled_rows
TRUNCATE settled_rows
