"""Logs and plan folders read on their way into the record."""
