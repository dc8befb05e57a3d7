"""kitcall decides what to ask, what an answer means, what follows, and keeps the record."""
