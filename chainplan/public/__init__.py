"""The public functions: each reads, computes and writes through the stages below it."""
