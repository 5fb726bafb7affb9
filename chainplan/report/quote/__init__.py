"""Quotes for customers: one page a piece, with its picture to scale, its price and the terms."""

from __future__ import annotations

from chainplan.report.quote.page import write_quotes

__all__ = ["write_quotes"]
