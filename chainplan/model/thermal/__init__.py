"""The thermal network of a piece, its kernels, and what a cooling curve says of it."""
