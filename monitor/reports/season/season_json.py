"""A season record for machines: SI with the unit in the key, times in UTC, null for not known."""

from datetime import datetime
from functools import lru_cache
from typing import Any

from monitor.craft.canonical import entry_json, utc_text
from monitor.reports.season.figures import (
    AirStoodIn,
    Kept,
    SeasonAlarm,
    SeasonFigures,
    SeasonMessage,
    SeasonNight,
    SeasonWork,
    SensorInDoubt,
    SensorReliedOn,
    StaffTold,
    StandingTime,
)
from monitor.units import json_number
from monitor.yard.people import names_by_id
from monitor.yard.space import Yard

FORM = 1  # of this document; docs/season-record.md has every key
_SECONDS_DIGITS = 0
_NIGHTS_KEPT = 4096  # many craft of a yard have a night alike; some 4 MB


def season_json(figures: SeasonFigures, yard: Yard) -> dict[str, Any]:
    """A record's figures as JSON, as `monitor/craft/sealing.py` seals it.

    What people dispute one by one stands in lists at the top, so that each has its own digest.

    Parameters
    ----------
    figures : SeasonFigures
    yard : Yard
        Of whose people and spaces it has the names.
    """
    return {**_heading(figures, yard), **_lists(figures)}


def _heading(figures: SeasonFigures, yard: Yard) -> dict[str, Any]:
    """What the record is of, and the names of all that it tells by id."""
    names = names_by_id(yard)
    spaces = {one.id: one for one in yard.spaces}
    craft = figures.craft
    people = sorted({who for who in _people_in(figures) if who in names})
    return {
        "laidup_record": FORM,
        "made_at": utc_text(figures.made_at),
        "program": figures.program,
        "season": {
            "year": figures.season,
            "from": utc_text(figures.since),
            "to": utc_text(figures.until),
        },
        "yard": {"id": yard.id, "name": yard.name, "zone": str(yard.zone)},
        "people": {one: names[one] for one in people},
        "spaces": {
            one.space: {
                "name": spaces[one.space].name if one.space in spaces else one.space,
                "kind": str(spaces[one.space].kind) if one.space in spaces else None,
            }
            for one in figures.air
        },
        "craft": {
            "id": craft.id,
            "name": craft.name,
            "profile": craft.profile,
            "hull_number": craft.hull_number or None,
            "owner": craft.owner or None,
            "arrived_at": utc_text(craft.arrived_at),
            "left_at": _time(craft.left_at),
            "circuits": dict(craft.circuits),
        },
        "record": {
            "links": figures.links,
            "last_hash": figures.chain_hash or None,
            "unreadable": figures.unreadable or None,
        },
        "watch": {
            "stood_h": json_number(figures.stood_h, 3),
            "heard_h": json_number(figures.heard_h, 3),
        },
        **(
            {"owner_page_opened_at": _time(figures.link_opened_at)}
            if figures.tells_page_opening
            else {}
        ),
    }


def _lists(figures: SeasonFigures) -> dict[str, Any]:
    """What is told one by one."""
    return {
        "kept": [_kept(one) for one in figures.kept],
        "work": [_work(one) for one in figures.work],
        "declined": [_work(one) for one in figures.declined],
        "changes_of_craft": [
            {"at": utc_text(at), "by": by or None, "before": dict(before), "after": dict(after)}
            for at, by, before, after in figures.changes_of_row
        ],
        "gaps": [
            {"at": utc_text(one.since), "until": utc_text(one.until), "space": one.space}
            for one in figures.gaps
        ],
        "air": [_air(one) for one in figures.air],
        "nights": [dict(_night(one)) for one in figures.nights],
        "alarms": [_alarm(one) for one in figures.alarms],
        "messages": [_message(one) for one in figures.messages],
        "damp": [_standing(one) for one in figures.damp],
        "battery": [_standing(one) for one in figures.battery],
        "battery_at_rest": [
            {"at": utc_text(at), "rested_v": json_number(volts, 3), "by": by}
            for at, volts, by in figures.rested
        ],
        "sensors": [_sensor(one) for one in figures.sensors],
        "doubts": [_doubt(one) for one in figures.doubts],
        "not_proved": [str(one) for one in figures.not_proved],
    }


def _people_in(figures: SeasonFigures) -> set[str]:
    """Ids of everybody whom the record names."""
    found = {figures.craft.owner, *(one.by for one in figures.kept)}
    found |= {one.answered_by for one in figures.alarms}
    found |= {told.person for one in figures.alarms for told in one.told}
    found |= {by for _, by, _, _ in figures.changes_of_row} | {by for _, _, by in figures.rested}
    for work in (*figures.work, *figures.declined):
        for one in work.versions:
            entry = one.entry
            found |= {entry.by, entry.entered_by, entry.evidence.witness}
    return found - {""}


def _kept(stay: Kept) -> dict[str, Any]:
    return {
        "at": utc_text(stay.since),
        "until": utc_text(stay.until),
        "space": stay.space,
        "berth": stay.berth or None,
        "by": stay.by or None,
    }


def _work(work: SeasonWork) -> dict[str, Any]:
    return {
        "id": work.versions[0].entry.id,
        "status": str(work.status),
        "versions": [
            {
                "link": one.link,
                "written_at": _time(one.written_at),
                "written_late": one.is_late,
                "entry": entry_json(one.entry),
            }
            for one in work.versions
        ],
    }


def _air(air: AirStoodIn) -> dict[str, Any]:
    below = {f"below_{_limit_key(limit)}_h": hours for limit, hours in air.below_h.items()}
    return {
        "space": air.space,
        "stood_h": json_number(air.stood_h, 3),
        "heard_h": json_number(air.heard_h, 3),
        "humidity_heard_h": json_number(air.humidity_heard_h, 3),
        "low_c": _number(air.low_c, 2),
        "low_hour_at": _time(air.low_at),
        "high_c": _number(air.high_c, 2),
        "high_hour_at": _time(air.high_at),
        **{key: json_number(hours, 3) for key, hours in below.items()},
        "frost_k_h": json_number(air.frost_kh, 3),
        "wet_h": json_number(air.wet_h, 3),
        "quantiles_c": {
            f"{share:g}": json_number(value, 2) for share, value in air.quantiles_c.items()
        },
        "heard_h_by_2k_from_c": {
            f"{edge:g}": json_number(hours, 3) for edge, hours in air.hours_by_bin.items()
        },
    }


def _limit_key(limit_c: float) -> str:
    """``0c``, ``minus_4c``."""
    return f"{'minus_' if limit_c < 0 else ''}{abs(limit_c):g}c"


@lru_cache(maxsize=_NIGHTS_KEPT)
def _night(night: SeasonNight) -> dict[str, Any]:
    return {
        "evening": night.evening.isoformat(),
        "space": night.space,
        "verdict": str(night.verdict),
        "heard": json_number(night.heard, 3),
        "low_c": _number(night.low_c, 2),
        "low_hour_at": _time(night.low_at),
        "expected_c": _number(night.expected_c, 2),
        "expected_low_c": _number(night.cold_c, 2),
        "expected_high_c": _number(night.warm_c, 2),
        "chance_below_0c": _number(night.chance_below_zero, 3),
        "circuit": night.circuit or None,
        "ice_point_c": _number(night.ice_point_c, 2),
        "burst_point_c": _number(night.burst_point_c, 2),
        "state": None if night.state is None else str(night.state),
        "basis": None if night.basis is None else str(night.basis),
        "inside_low_c": _number(night.inside_low_c, 2),
        "inside_probed": night.is_probed,
        "room_k": _number(night.room_k, 2),
        "worst_standing": None if night.worst_standing is None else str(night.worst_standing),
    }


def _alarm(alarm: SeasonAlarm) -> dict[str, Any]:
    return {
        "id": alarm.id,
        "cause": alarm.cause,
        "space": alarm.space,
        "part": alarm.part or None,
        "of_space": alarm.is_of_space,
        "raised_at": utc_text(alarm.raised_at),
        "times_raised": alarm.times_raised,
        "answered_at": _time(alarm.answered_at),
        "answered_by": alarm.answered_by or None,
        "waited_s": _number(alarm.waited_s, _SECONDS_DIGITS),
        "answered_after_s": _number(alarm.answered_after_s, _SECONDS_DIGITS),
        "over_at": _time(alarm.over_at),
        "told": [_staff_told(one) for one in alarm.told],
        "told_is_whole": alarm.told_is_whole,
    }


def _staff_told(told: StaffTold) -> dict[str, Any]:
    return {
        "at": utc_text(told.at),
        "person": told.person,
        "role": told.role,
        "channel": told.channel,
        "kind": str(told.kind),
        "outcome": told.fate,
        "taken_at": _time(told.taken_at),
        "tries": told.tries,
    }


def _message(message: SeasonMessage) -> dict[str, Any]:
    return {
        "at": utc_text(message.written_at),
        "channel": message.channel,
        "kind": str(message.kind),
        "subject": message.subject or None,
        "outcome": None if message.outcome is None else str(message.outcome),
        "taken_at": _time(message.taken_at),
        "tries": message.tries,
    }


def _standing(time: StandingTime) -> dict[str, Any]:
    return {
        "standing": str(time.standing),
        "hours_h": json_number(time.hours, 3),
        "times": time.times,
    }


def _sensor(sensor: SensorReliedOn) -> dict[str, Any]:
    return {
        "name": sensor.name,
        "space": sensor.space,
        "mount": str(sensor.mount),
        "circuit": sensor.circuit or None,
        "place": sensor.place or None,
        "height_m": _number(sensor.height_m, 3),
        "interval_s": _number(sensor.interval_s, 3),
        "heard_h": _number(sensor.heard_h, 3),
        "of_h": json_number(sensor.of_h, 3),
        "calibrations": [
            {
                "channel": str(one.channel),
                "made_on": one.made_on.isoformat(),
                "standard": one.standard,
                "points": [{"read": point.read, "true": point.true} for point in one.points],
                "due_on": None if one.due_on is None else one.due_on.isoformat(),
            }
            for one in sensor.calibrations
        ],
    }


def _doubt(doubt: SensorInDoubt) -> dict[str, Any]:
    return {
        "at": utc_text(doubt.since),
        "sensor": doubt.sensor or None,
        "space": doubt.space,
        "standing": str(doubt.standing),
        "until": _time(doubt.until),
    }


def _time(at: datetime | None) -> str | None:
    return None if at is None else utc_text(at)


def _number(value: float | None, digits: int) -> float | None:
    return None if value is None else json_number(value, digits)
