-- reach: let the engine reach no file but these.
-- writes: the settings of the engine
-- binds: paths
SET allowed_paths = $paths
