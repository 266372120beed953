-- session: print no bar of progress amid what a command prints, and let no statement set anything from now on.
-- writes: the settings of the connection
SET SESSION enable_progress_bar = false;
SET lock_configuration = true;
