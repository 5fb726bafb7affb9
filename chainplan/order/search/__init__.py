"""Choosing among patterns, and searching for orders that nobody could follow."""
