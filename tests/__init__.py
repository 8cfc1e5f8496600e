"""Tests: one folder for each room, and the real parts that they run against in real/."""
