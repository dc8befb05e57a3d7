"""Sound in and out. Knows no diving."""
