"""A cooling curve of the bench: how it is read, and what it says of the uncertain numbers."""
