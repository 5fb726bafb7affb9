"""Pieces in space: weave, layout, joins, and how a hand counts along them."""
