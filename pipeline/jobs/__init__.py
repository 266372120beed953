"""The jobs behind the commands: they join ledger, fit, decisions and pages; each does one thing whole."""
