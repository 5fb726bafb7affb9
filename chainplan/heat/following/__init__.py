"""A run of welds followed through time: exactly by modes, in large pieces by sums of kernels."""
