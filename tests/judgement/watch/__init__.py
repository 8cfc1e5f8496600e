"""Silence, mains, late forecasts, open records."""
