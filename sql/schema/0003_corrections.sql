-- 0003_corrections: the cells of each staged row as its export wrote them, and what the owner has corrected or
-- removed. The ledger's views and macros are in views.sql from here on, and are made again after each migration.

-- grain: row_id: the cells of a staged row that its map reads, as a JSON object of heading and text; contact details
-- are masked, but not in references. A row that was read before this version has none until its file is read again.
CREATE TABLE source_rows (
    row_id BIGINT NOT NULL,
    cells VARCHAR NOT NULL USING COMPRESSION zstd
);

-- grain: row_id: the staged rows that the owner has corrected, as they stand after it
CREATE TABLE corrected_rows AS FROM staged_rows WITH NO DATA;

-- grain: row_id: the staged rows that the owner has removed
CREATE TABLE removed_rows (row_id BIGINT NOT NULL);
