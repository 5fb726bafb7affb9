"""What people are told about an order: passes, comparisons, gains, obstacles and advice."""
