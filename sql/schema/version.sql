-- version: the newest migration that the ledger has had.
-- grain: one row
-- reads: schema_version
-- columns: version INTEGER
SELECT max(version) AS version
FROM schema_version
