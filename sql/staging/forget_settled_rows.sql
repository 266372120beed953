-- forget_settled_rows: clear the table before it is derived again.
-- writes: settled_rows
TRUNCATE settled_rows
