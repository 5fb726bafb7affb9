"""Wire, time and money, reckoned anew."""
