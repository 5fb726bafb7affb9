"""Quotes for customers: one page a piece, with its picture to scale, its price and the terms."""

from __future__ import annotations

from chainplan.report.quote.kept import Drawn
from chainplan.report.quote.page import write_quotes

__all__ = ["Drawn", "write_quotes"]
