"""Plans welded chainmail, from a spreadsheet row to a weld order on paper."""

__version__ = "0.1.0"
