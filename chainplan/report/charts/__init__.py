"""Charts from finished results."""
