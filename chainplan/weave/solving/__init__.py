"""Solved repeats: searched for towards a goal, kept, and judged at every aspect ratio."""
