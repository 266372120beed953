-- 0007_stock: the owner's stock lists. A list is the state of the stock on a day, so every one that was read is kept.

-- grain: file_sha256, map_name, listed_on: a list, and a day that it is of; one content may be of several days. Of two
-- lists of one map and day the one with the greater reading_number counts. is_said: the owner said the day; else it is
-- that of the reading, and a day that is said takes its place.
CREATE TABLE stock_lists (
    file_sha256 VARCHAR NOT NULL,
    map_name VARCHAR NOT NULL,
    listed_on DATE NOT NULL,
    is_said BOOLEAN NOT NULL,
    reading_number BIGINT NOT NULL
);

-- grain: file_sha256, sheet, row_number: one pair of a list, in the columns of a sale record and those that only a stock
-- list has (STOCK_LISTING in pipeline/schema.py)
CREATE TABLE stock_rows AS SELECT * EXCLUDE (row_id, node, pair_number) FROM staged_rows WITH NO DATA;
ALTER TABLE stock_rows ADD COLUMN bought_on DATE;
ALTER TABLE stock_rows ADD COLUMN cost_currency VARCHAR;
ALTER TABLE stock_rows ADD COLUMN work_paid DECIMAL(18, 4);
ALTER TABLE stock_rows ADD COLUMN work_currency VARCHAR;
ALTER TABLE stock_rows ADD COLUMN ask_currency VARCHAR;
ALTER TABLE stock_rows ADD COLUMN offered_at VARCHAR;
ALTER TABLE stock_rows ADD COLUMN pictures VARCHAR[];
