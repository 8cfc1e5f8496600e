"""Whole open winters judged evening by evening, and held against an independent truth."""
