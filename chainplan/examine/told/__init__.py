"""What people read beside the numbers: sentences and the bench sheet."""
