"""The schedule for people: a page a week to hang on the wall, and a file for their calendars."""
