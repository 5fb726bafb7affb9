"""Cost, price and what to buy, in decimal arithmetic; and the questions about them."""
