-- copy_all: copy all that one ledger defines and holds into another, empty one, and close that.
-- writes: the file that is copied to
COPY FROM DATABASE source TO target;
DETACH target;
