"""Health of laidup as JSON: one check for each thing that the account of the watch speaks of."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from monitor.yard.health import HealthAccount, HealthFault, HealthFaultKind


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
    since: datetime | None = None  # its fault has stood since then
    remedy: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class HealthReport:
    """All checks, and the worst of them."""

    status: Health
    at: datetime
    checks: dict[str, Check]


# Of these a check is there also where nothing is wrong.
_FINE = {
    HealthFaultKind.PROCESS: "lives and turns",
    HealthFaultKind.STORE: "nothing wrong found",
    HealthFaultKind.READINGS: "fresh",
    HealthFaultKind.JUDGEMENT: "fresh",
    HealthFaultKind.SENSORS: "none silent",
}
# A store whose disk is full takes nothing, whatever else it may be.
_TOLD_WITH = {HealthFaultKind.DISK: HealthFaultKind.STORE}


def report_of(account: HealthAccount) -> HealthReport:
    """The account as ``/health`` tells it."""
    faults: dict[HealthFaultKind, list[HealthFault]] = {kind: [] for kind in _FINE}
    for fault in account.faults:
        faults.setdefault(_TOLD_WITH.get(fault.kind, fault.kind), []).append(fault)
    latest = {
        HealthFaultKind.READINGS: account.newest_reading_at,
        HealthFaultKind.JUDGEMENT: account.judged_at,
    }
    checks = {str(kind): _check(kind, some, latest.get(kind)) for kind, some in faults.items()}
    worst = max((check.status for check in checks.values()), key=list(Health).index)
    return HealthReport(status=worst, at=account.at, checks=checks)


def _check(
    kind: HealthFaultKind, faults: Sequence[HealthFault], latest_at: datetime | None
) -> Check:
    if not faults:
        return Check(status=Health.PASS, says=_FINE[kind], latest_at=latest_at)
    return Check(
        status=Health.FAIL if any(fault.is_grave for fault in faults) else Health.WARN,
        says=" ".join(fault.what for fault in faults),
        latest_at=latest_at,
        since=min(fault.since for fault in faults),
        remedy=" ".join(dict.fromkeys(fault.remedy for fault in faults)),
    )
