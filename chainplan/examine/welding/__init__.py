"""The weld order and how the piece is earthed."""
