"""Health of laidup: the process lives, and whether it judges and hears its sensors."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from monitor.clock import from_ms, to_ms
from monitor.errors import StoreError
from monitor.phrases.intake_faults import fault_line
from monitor.phrases.store_condition import store_lines
from monitor.store.store import Store
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.reading import Channel
from monitor.yard.space import Yard
from monitor.yard.store_condition import StoreCondition

_SHORTEST_SILENCE = timedelta(minutes=15)
_MISSED_IN_A_ROW = 3


class Health(StrEnum):
    """Result of a check; worst last."""

    PASS = "pass"  # noqa: S105 - no password
    WARN = "warn"
    FAIL = "fail"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One thing looked at."""

    status: Health
    says: str
    latest_at: datetime | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthReport:
    """All checks, and the worst of them."""

    status: Health
    at: datetime
    checks: dict[str, Check]


def health_of(
    store: Store,
    yard: Yard,
    now: datetime,
    old_after: timedelta,
    unwell: Mapping[str, str],
    condition: StoreCondition,
) -> HealthReport:
    """Look whether readings and judgements are fresh, and whether a sensor is silent.

    ``unwell`` names the daemon's own parts that do not turn, with the reason; ``condition`` says
    how the store fares, which is all there is to say where it does not answer.
    """
    checks = {"process": _process_check(unwell), "store": _store_check(condition)}
    try:
        checks |= _heard_and_judged(store, yard, now, old_after)
    except StoreError as error:
        checks["store"] = Check(status=Health.FAIL, says=f"does not answer: {error}")
    worst = max((c.status for c in checks.values()), key=list(Health).index)
    return HealthReport(status=worst, at=now, checks=checks)


def _process_check(unwell: Mapping[str, str]) -> Check:
    if unwell:
        says = "; ".join(f"{part}: {why}" for part, why in sorted(unwell.items()))
        return Check(status=Health.FAIL, says=says)
    return Check(status=Health.PASS, says="lives and turns")


def _store_check(condition: StoreCondition) -> Check:
    says = " ".join(store_lines(condition)) or "nothing wrong found"
    if condition.damage or condition.full:
        return Check(status=Health.FAIL, says=says)
    return Check(status=Health.WARN if condition.little_room else Health.PASS, says=says)


def _heard_and_judged(
    store: Store, yard: Yard, now: datetime, old_after: timedelta
) -> dict[str, Check]:
    """Checks of what the store holds: readings, judgements, sensors, faults of the way in."""
    allowed = max(old_after, _allowed_silence(yard))
    # Without labels too: a sensor that names its channels as laidup does needs none.
    keys = [(sensor.name, channel) for sensor in yard.sensors for channel in Channel]
    with store.snapshot() as tx:
        traces = tx.readings.window(keys, to_ms(now - allowed), to_ms(now) + 1)
        judged = tx.assessments.latest()
        faults = tx.intake_faults.all()
    newest_ms = max((int(t.at_ms[-1]) for t in traces.values() if t.at_ms.size), default=None)
    judged_at = max((a.at for a in judged), default=None)
    silent = [
        a.subject.part
        for a in judged
        if a.hazard is Hazard.SILENCE and a.standing in {Standing.SILENT, Standing.NOT_KNOWN}
    ]
    minutes = round(allowed.total_seconds() / 60)
    checks = {
        "readings": (
            Check(status=Health.FAIL, says=f"no reading in the last {minutes} min")
            if newest_ms is None
            else Check(status=Health.PASS, says="fresh", latest_at=from_ms(newest_ms))
        ),
        "judgement": (
            Check(status=Health.FAIL, says="no fresh round of judgements", latest_at=judged_at)
            if judged_at is None or now - judged_at > old_after
            else Check(status=Health.PASS, says="fresh", latest_at=judged_at)
        ),
        "sensors": (
            Check(status=Health.WARN, says="silent: " + ", ".join(sorted(silent)))
            if silent
            else Check(status=Health.PASS, says="none silent")
        ),
    }
    return checks | {
        str(fault.kind).replace(" ", "_"): Check(
            status=Health.WARN, says=fault_line(fault), latest_at=fault.last_at
        )
        for fault in faults.values()
    }


def _allowed_silence(yard: Yard) -> timedelta:
    slowest_s = max((sensor.interval_s or 0.0 for sensor in yard.sensors), default=0.0)
    return max(_SHORTEST_SILENCE, _MISSED_IN_A_ROW * timedelta(seconds=slowest_s))
