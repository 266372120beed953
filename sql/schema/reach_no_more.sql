-- reach_no_more: let the engine reach no file but those named before, and let no statement change that.
-- writes: the settings of the engine
SET enable_external_access = false;
SET autoinstall_known_extensions = false;
SET enable_progress_bar = false;
SET lock_configuration = true;
