"""Self-contained pages: one module a report, one theme, one template."""
