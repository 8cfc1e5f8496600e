"""Rules of the trade over a lay-up record, each with its reason in words."""
