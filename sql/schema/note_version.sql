-- note_version: keep that a migration has been applied.
-- writes: schema_version
INSERT INTO schema_version (version) VALUES ($version)
