"""Timetables by constraint programming: better ones than the dispatch rule finds, and proofs.

Everything here needs the extra ``chainplan[schedule]``; without it the dispatch rule stands alone.
"""

from chainplan.schedule.exact.bounding import Proofs
from chainplan.schedule.exact.improve import better_lines
from chainplan.schedule.exact.solve import has_solver, load_solver

__all__ = ["Proofs", "better_lines", "has_solver", "load_solver"]
