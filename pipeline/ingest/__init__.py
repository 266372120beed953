"""From an export to the ledger: read, map, normalise, tell same from same, quarantine."""
