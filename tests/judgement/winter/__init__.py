"""Tests of a winter that has not come yet."""
