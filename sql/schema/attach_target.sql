-- attach_target: make the file that is copied to.
-- writes: the databases of the engine
-- binds: target
ATTACH $target AS target
