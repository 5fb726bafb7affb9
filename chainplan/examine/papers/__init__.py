"""What else is written for people: quotes, joins, weaving, charts, the sheet to fill in by hand."""
