"""The rules of the bench: who is free takes what comes next, or what a timetable gives."""
