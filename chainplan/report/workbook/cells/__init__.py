"""How sheets are written: cells with their looks, tables and pictures in their places, the file."""
