"""How many runs a question needs."""
