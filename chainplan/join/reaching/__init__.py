"""Whether and how the electrode reaches a join: directions, clearance, like surroundings."""
