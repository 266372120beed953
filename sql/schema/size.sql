-- size: how many bytes the open file has when it is whole, without what the engine keeps before the blocks.
-- grain: one row
-- reads: the catalogue
-- columns: block_bytes BIGINT
SELECT block_size * total_blocks AS block_bytes
FROM pragma_database_size()
