"""Circuits in the cold."""
