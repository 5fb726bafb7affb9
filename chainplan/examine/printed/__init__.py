"""What people hold: the workbook and the pages of the weld order, compared with the plan's data."""
