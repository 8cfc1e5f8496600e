"""The log tells each fault once, and none that a start has by itself."""

import logging
from datetime import UTC, datetime

from monitor.delivery.life_signals import LifeSignals
from monitor.delivery.part_turns import PartTurns
from monitor.yard.health import HealthAccount, HealthFault, HealthFaultKind

NOW = datetime(2026, 11, 14, 22, tzinfo=UTC)


def fault(*, is_of_start: bool) -> HealthFault:
    return HealthFault(
        kind=HealthFaultKind.READINGS,
        is_grave=True,
        what="No reading in the last 15 min.",
        remedy="Look at the gateway.",
        since=NOW,
        is_of_start=is_of_start,
    )


def test_a_fault_of_the_start_is_logged_once_the_start_is_over_and_it_still_stands(caplog):
    turns = [
        [fault(is_of_start=True)], [fault(is_of_start=True)],
        [fault(is_of_start=False)], [fault(is_of_start=False)], [],
    ]  # fmt: skip
    accounts = iter([HealthAccount(at=NOW, faults=tuple(each)) for each in turns])
    signs = LifeSignals(
        PartTurns({}), account=lambda: next(accounts), lamp=None, pulse=None, every_s=1.0
    )
    said = []
    with caplog.at_level(logging.INFO):
        for _ in turns:
            caplog.clear()
            signs._report_health()
            said.append([(one.levelno, one.getMessage()) for one in caplog.records])
    told = (logging.ERROR, "No reading in the last 15 min. Look at the gateway.")
    over = (logging.INFO, "Over: No reading in the last 15 min.")
    assert said == [[], [], [told], [], [over]]


def test_a_start_that_hears_readings_in_time_logs_nothing(caplog):
    accounts = iter([HealthAccount(at=NOW, faults=(fault(is_of_start=True),)),
                     HealthAccount(at=NOW)])  # fmt: skip
    signs = LifeSignals(
        PartTurns({}), account=lambda: next(accounts), lamp=None, pulse=None, every_s=1.0
    )
    with caplog.at_level(logging.INFO):
        signs._report_health()
        signs._report_health()
    assert caplog.records == []
