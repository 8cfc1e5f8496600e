"""Faults of mail servers, receivers and clocks: does the message still leave?"""

from tests.line.drills.warnings import WarningDrill

DRILLS: list[WarningDrill] = []
