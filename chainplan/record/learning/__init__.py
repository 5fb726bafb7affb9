"""What the record says about the bench: each figure with interval and count."""
