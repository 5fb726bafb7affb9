"""Sound jobs drawn by chance, and what a shop does with each: every one must plan or be refused.

``jobs(scale)`` is a Hypothesis strategy for a whole job as rows by sheet, ``draw_job`` draws one by
number; ``run_job`` plans it and goes on with it as a shop would. What can stand together in a job
file stands together here.
"""

from drawn_jobs.running import FOLLOW_UPS, Run, run_job, write_files
from drawn_jobs.whole import LARGE, SMALL, Scale, draw_job, jobs

__all__ = [
    "FOLLOW_UPS",
    "LARGE",
    "SMALL",
    "Run",
    "Scale",
    "draw_job",
    "jobs",
    "run_job",
    "write_files",
]
