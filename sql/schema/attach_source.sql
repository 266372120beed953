-- attach_source: open the ledger that is copied from, for reading.
-- writes: the databases of the engine
-- binds: source
ATTACH $source AS source (READ_ONLY)
