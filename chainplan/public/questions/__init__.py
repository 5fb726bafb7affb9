"""Questions that need no weld order: which ring, what else, what if, and at what price."""
