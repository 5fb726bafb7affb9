"""The bench sheet: one offline file that says what to weld next and keeps the log."""

from chainplan.report.bench_sheet.page import bench_sheet_html, write_bench_sheet

__all__ = ["bench_sheet_html", "write_bench_sheet"]
