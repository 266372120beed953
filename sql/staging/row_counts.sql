-- row_counts: how many rows the ledger holds.
-- grain: one row
-- reads: staged_rows, quarantine, sales
-- columns: staged BIGINT, quarantined BIGINT, sales BIGINT
SELECT
    (SELECT count(*) FROM staged_rows) AS staged,
    (SELECT count(*) FROM quarantine) AS quarantined,
    (SELECT count(*) FROM sales) AS sales
