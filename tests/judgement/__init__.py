"""The judgement room."""
