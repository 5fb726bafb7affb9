"""Rings in space as poses: circles, links, invariants, and what tells two shapes apart."""
