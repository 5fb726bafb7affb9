"""What the terminal says: answers to questions, quotes, calibration, the workshop."""
