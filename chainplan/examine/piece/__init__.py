"""The piece as it is told: counts, lengths, masses, fittings."""
