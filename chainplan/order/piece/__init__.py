"""What is welded and who holds it: joins and the pace of the hand, counting, fingertips."""
