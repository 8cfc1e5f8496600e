"""Judges laid-up craft: readings in, assessments, alarms, messages and reports out."""
