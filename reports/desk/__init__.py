"""The desk's own pages: templates, style, script."""
