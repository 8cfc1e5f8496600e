"""Faults of disk, store and page: is the yard still watched, and told?"""

from tests.line.drills.warnings import WarningDrill

DRILLS: list[WarningDrill] = []
