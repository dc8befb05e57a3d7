"""Sums of the trade: pure, SI inside, every table cited."""
