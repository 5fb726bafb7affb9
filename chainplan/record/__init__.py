"""The workshop's record: what really happened, kept in one file, and what follows from it."""
