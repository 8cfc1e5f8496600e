"""A winter with faults of every kind, through the real line."""
