-- tables: the tables of the open file.
-- grain: table_name
-- reads: the catalogue
-- columns: table_name VARCHAR
SELECT table_name
FROM information_schema.tables
WHERE table_schema = 'main'
