"""Rings in space, from rings.csv and links.csv."""
