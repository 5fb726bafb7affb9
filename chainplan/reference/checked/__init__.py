"""The tables held to their schema and to each other, and read."""
