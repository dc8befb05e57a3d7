"""Button, lights and what the box on the boat needs. Knows no diving."""
