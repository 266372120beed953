-- session: show no progress bar in what a command prints, and let no statement change a setting from now on.
-- writes: the settings of the connection
SET SESSION enable_progress_bar = false;
SET lock_configuration = true;
