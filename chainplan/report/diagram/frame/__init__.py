"""Pages that fill from top to bottom, the key of marks below, and what the marks mean."""
