"""The commands, a few to a module; only the module of the command that is called is loaded."""
