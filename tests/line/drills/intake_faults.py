"""Faults of brokers, clocks and senders: are readings true, and in time?"""

from tests.line.drills.warnings import WarningDrill

DRILLS: list[WarningDrill] = []
