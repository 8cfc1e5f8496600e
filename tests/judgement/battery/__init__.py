"""Batteries and their maintainers."""
