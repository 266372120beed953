-- size: how many bytes the open file has at least when it is whole: those of the blocks that hold something.
-- grain: one row
-- reads: the catalogue
-- columns: block_bytes BIGINT
SELECT block_size * used_blocks AS block_bytes
FROM pragma_database_size()
