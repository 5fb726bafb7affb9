"""The record as a file, and the first reading of what stands in it: plans, joins, welds."""
