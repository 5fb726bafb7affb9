"""The clock of large pieces: temperatures as sums of kernels over the welds before."""
