"""What ``laidup status`` says, for machines."""

from datetime import UTC, datetime
from typing import Any

from monitor.clock import from_ms
from monitor.commands.jobs import job_states
from monitor.commands.opening import Opened
from monitor.commands.verify import check_briefly, told_of_check
from monitor.health.telling import account_socket, ask_daemon
from monitor.store.upkeep import condition_of
from monitor.units import json_number


def status_json(here: Opened, now: datetime) -> tuple[bool, dict[str, Any]]:
    """Whether the lay-up record is whole, and how laidup fares: SI, the unit in the key, UTC."""
    with here.store.snapshot() as tx:
        latest = tx.yard_readings.latest_readings()
        count = tx.yard_readings.count_readings()
        alarms = tx.alarms.open_alarms()
        waiting, next_due = tx.outbox.count_by_outcome(), tx.outbox.next_due()
        aside = tx.aside.count_messages()
        judged = max((one.at for one in tx.assessments.latest_judgements()), default=None)
        found = check_briefly(tx)
        said = told_of_check(tx, found)
    condition = condition_of(here.store, now, check=False)
    heard: dict[str, dict[str, Any]] = {}
    for (sensor, channel), one in latest.items():
        heard.setdefault(sensor, {})[channel] = {
            "value": json_number(one.value),
            "unit": channel.senml_unit,
            "flag": int(one.flag),
            "at": _utc(from_ms(one.at_ms)),
        }
    return found.whole, {
        "at": _utc(now),
        "yard": here.yard.id,
        "watch": _watch_json(here),
        "judged_at": _utc(judged),
        "alarms_open": len(alarms),
        "readings": count,
        "sensors": [
            {"sensor": one.name, "space": one.space, "heard": heard.get(one.name, {})}
            for one in here.yard.sensors
        ],
        "aside": aside,
        "messages": {**waiting, "next_due": _utc(next_due)},
        "record": {"whole": found.whole, "said": said},
        "store": {"damage": condition.damage, "full": condition.full},
        "jobs": [
            {
                "job": str(one.job),
                "last": None if one.last is None else _utc(one.last.began_at),
                "problem": one.problem or (one.last.problem if one.last else "") or None,
                "next": _utc(one.next_at),
            }
            for one in job_states(here.settings, here.store)
        ],
    }


def _watch_json(here: Opened) -> dict[str, Any]:
    """Of the daemon: whether it runs, and its faults; it hangs where it runs and gives none."""
    try:
        account = ask_daemon(account_socket(here.settings.store_url, here.settings.file))
    except TimeoutError:
        return {"runs": True, "answers": False, "faults": None}
    if account is None:
        return {"runs": False, "answers": False, "faults": None}
    faults = [
        {"what": one.what, "since": _utc(one.since), "remedy": one.remedy} for one in account.faults
    ]
    return {"runs": True, "answers": True, "faults": faults}


def _utc(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat(timespec="seconds")
