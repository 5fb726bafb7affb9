"""A page as a list of marks in mm, and what turns it into files; knows nothing of plans."""
