"""Circuits in the cold: how far each cools, what freezes, and what is to be done."""
