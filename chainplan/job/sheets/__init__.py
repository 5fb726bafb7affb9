"""Understands the rows of every sheet: what each cell means, and what is wrong with it."""
