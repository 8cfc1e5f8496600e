"""What is stored and what was done to it."""
