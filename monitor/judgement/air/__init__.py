"""The air of each space: past, tonight, and what follows it with a lag."""
