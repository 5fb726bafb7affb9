"""Reads, checks and writes job files: pieces, bench, prices, stock, parts, metals, recorded."""

from chainplan.job.columns import Column, columns, columns_markdown
from chainplan.job.reader import check_job, read_job
from chainplan.job.sheets.sections import section_from_words
from chainplan.job.written.content import content_of
from chainplan.job.written.starter import write_starter
from chainplan.job.written.writer import write_job

__all__ = [
    "Column",
    "check_job",
    "columns",
    "columns_markdown",
    "content_of",
    "read_job",
    "section_from_words",
    "write_job",
    "write_starter",
]
