"""What holds whatever the search did: a lower bound, and an independent verifier."""
