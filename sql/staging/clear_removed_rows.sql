-- clear_removed_rows: clear the table before it is made again of the owner's decisions.
-- writes: removed_rows
TRUNCATE removed_rows
