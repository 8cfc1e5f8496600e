"""The air of each space."""
