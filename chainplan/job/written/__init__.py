"""Writes jobs: workbook, TOML, CSV and the starter, from the same table of columns."""
