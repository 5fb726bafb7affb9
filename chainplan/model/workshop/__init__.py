"""The workshop: who does what when, what the bench wrote down, and what really happened."""
