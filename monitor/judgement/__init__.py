"""Readings and protection in, assessments out."""
