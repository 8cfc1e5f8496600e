"""Scoring: seeded winters lived through the store, the judgement and the alarms, against truth."""
