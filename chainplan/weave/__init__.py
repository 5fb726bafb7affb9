"""Weaves: data files solved into ring geometry, and pieces laid out from them."""
