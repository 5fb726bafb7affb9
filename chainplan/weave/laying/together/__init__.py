"""Sections and fittings put end to end: rings between them, what hangs, how the whole walks."""
