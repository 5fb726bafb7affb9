"""Rings drawn over and under, from any side."""
