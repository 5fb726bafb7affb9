"""Reads, checks and writes job files: pieces, bench, prices, stock, parts, metals, recorded."""

from chainplan.job.columns import Column, columns, columns_markdown
from chainplan.job.reader import check_job, read_job
from chainplan.job.sections import section_from_words

__all__ = [
    "Column",
    "check_job",
    "columns",
    "columns_markdown",
    "read_job",
    "section_from_words",
]
