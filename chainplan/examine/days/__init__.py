"""Days and hours: the schedule, the due dates, what the calendar says."""
