"""Batteries and their maintainers: charge, faults, and the cold that freezes acid."""
