"""Faults of memory and drawing: is a second danger still told?"""

from tests.line.drills.warnings import WarningDrill

DRILLS: list[WarningDrill] = []
