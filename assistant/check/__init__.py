"""What to ask, what an answer means, what follows. Pure: no clock, no sound, no store."""
