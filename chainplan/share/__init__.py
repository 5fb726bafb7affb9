"""The plan shared with tablets: a small server, what it lets in, and the board."""
