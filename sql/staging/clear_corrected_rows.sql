-- clear_corrected_rows: clear the table before it is made again of the owner's decisions.
-- writes: corrected_rows
TRUNCATE corrected_rows
