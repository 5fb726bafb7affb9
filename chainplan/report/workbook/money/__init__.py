"""Sheets that follow the inputs: cost, price, and how their quantities come about."""
