-- 0004_again: readings that a later version of their file replaced, rows that are no sale of one pair, and rows of
-- several pairs.

-- grain: one row a reading of a file that another file took the place of; the counts are those of its rows
CREATE TABLE replaced_files (
    file_sha256 VARCHAR NOT NULL,
    file_name VARCHAR NOT NULL,
    map_name VARCHAR NOT NULL,
    rows_read BIGINT NOT NULL,
    run_id INTEGER NOT NULL,
    replaced_by VARCHAR NOT NULL,
    replaced_in INTEGER NOT NULL,
    unchanged BIGINT NOT NULL,
    changed BIGINT NOT NULL,
    gone BIGINT NOT NULL
);

-- The rows put aside because they are no sale of one pair, and the pairs beyond one of rows with a quantity:
-- rows_read + further_pairs = recorded + duplicates + quarantined + put_aside.
ALTER TABLE run_files ADD COLUMN put_aside BIGINT DEFAULT 0;
ALTER TABLE run_files ADD COLUMN further_pairs BIGINT DEFAULT 0;

-- A row of several pairs of one kind is staged once a pair, numbered from 1.
ALTER TABLE staged_rows ADD COLUMN pair_number INTEGER DEFAULT 1;
ALTER TABLE corrected_rows ADD COLUMN pair_number INTEGER DEFAULT 1;

-- grain: file_sha256, sheet, row_number: the rows that undo a sale or a part of it, which are put aside as well; amount
-- is what the buyer got back, in `currency`, null where that is all. record_key is the sale, null while there is none.
CREATE TABLE reversals (
    file_sha256 VARCHAR NOT NULL,
    sheet VARCHAR NOT NULL,
    row_number BIGINT NOT NULL,
    kind VARCHAR NOT NULL,
    venue VARCHAR,
    sale_ref VARCHAR,
    lot_ref VARCHAR,
    stock_ref VARCHAR,
    title VARCHAR,
    reversed_on DATE,
    currency VARCHAR,
    amount DECIMAL(18, 4),
    record_key UBIGINT
);
