-- definitions: what the open file defines: its tables, views and macros, each by the statement that makes it.
-- grain: kind, schema_name, relation
-- reads: the catalogue
-- columns: kind VARCHAR, schema_name VARCHAR, relation VARCHAR, definition VARCHAR
SELECT 'table' AS kind, schema_name, table_name AS relation, sql AS definition
FROM duckdb_tables()
WHERE NOT internal AND database_name = current_database()
UNION ALL
SELECT 'view', schema_name, view_name, sql
FROM duckdb_views()
WHERE NOT internal AND database_name = current_database()
UNION ALL
SELECT 'macro', schema_name, function_name, concat(CAST(parameters AS VARCHAR), ' AS ', macro_definition)
FROM duckdb_functions()
WHERE NOT internal AND database_name = current_database()
