-- source_rows: keep the cells of the staged rows of one file as the export wrote them.
-- grain: row_id
-- reads: incoming (row_id, cells)
-- writes: source_rows
INSERT INTO source_rows BY NAME
SELECT row_id, cells
FROM incoming
