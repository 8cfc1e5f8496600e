"""Sums of the judgement by hand: ``laidup calc``, one module for each family of verbs."""
