"""Wire and metal: what a ring takes, how many spares, how many coils."""
