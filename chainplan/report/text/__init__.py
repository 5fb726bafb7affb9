"""The same results as words, records and tables."""
