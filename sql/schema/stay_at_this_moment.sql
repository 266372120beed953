-- stay_at_this_moment: have the connection read what the ledger holds now, and write nothing, until it rolls back.
-- writes: nothing
BEGIN TRANSACTION READ ONLY
