"""Weld-order diagrams and pictures of the joins, page by page."""
