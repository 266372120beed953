-- forget_sources: make room for the sources derived anew.
-- writes: record_sources
TRUNCATE record_sources
