"""Runs one check of the examiner."""

from __future__ import annotations

from chainplan.examine.findings import Teller
from chainplan.examine.registry import CHECKS


def findings_of(name, files):
    """What one check finds in the files of a plan."""
    teller = Teller(name)
    dict(CHECKS)[name](files, teller)
    return teller.close()
