-- tables: the tables and views of the open file, in whatever schema.
-- grain: schema_name, table_name
-- reads: the catalogue
-- columns: schema_name VARCHAR, table_name VARCHAR
SELECT
    table_schema AS schema_name,
    table_name
FROM information_schema.tables
WHERE table_catalog = current_database()
