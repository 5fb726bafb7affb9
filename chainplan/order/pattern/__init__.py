"""Regular ways through a piece, what they take in each pass, and how that is said."""
