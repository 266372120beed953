"""What the terminal shows: one module a subject."""
