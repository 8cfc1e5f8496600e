"""What a winter's watch was worth: its alarms and lows against what really happened."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from math import inf, nan
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from monitor.yard.assessment import Hazard, Standing
from simulator.winter import Lived, Winter
from tests.bench.scoring.chances import OUTDOORS, Chance, chances_of, space_at
from tests.bench.scoring.watch import Heard, Held

SOON = timedelta(hours=36)  # an alarm of an evening speaks of the coming night and of its noon
APART = timedelta(hours=3)  # alarms with less between them are one
EVENINGS_AT = (16, 19)  # hours of the yard's clock at which its forecast of the low is taken
_ROUND_WITHIN_S = 60.0  # a yard whose rounds do not fall on such an hour has none of it
LEARNING_NIGHTS = 10
WET_G_M2 = 5.0
HEATED = "shop"
JUST = timedelta(hours=24)  # after a craft was taken out of the heat
_FORECAST = timedelta(hours=24)  # how far the judgement looks ahead by a public forecast
HOUR = timedelta(hours=1)


class Event(NamedTuple):
    """One thing that happened, and how long before it the alarm stood; NaN: it did not."""

    seed: int
    subject: str
    at: datetime
    lead_h: float
    note: str = ""


class Raised(NamedTuple):
    """One alarm and whether what it warned of came."""

    seed: int
    subject: str
    at: datetime
    right: bool
    loosely: bool  # within 1 K, or at any time while it stood
    note: str = ""


class Low(NamedTuple):
    """One space's coming low as it was forecast at an hour of the evening."""

    seed: int
    space: str
    evening: str
    hour: int
    edge_c: float
    expected_c: float
    last_night_c: float
    low_c: float


@dataclass(slots=True)
class Score:
    """Everything that happened and was said over all winters."""

    events: dict[str, list[Event]] = field(default_factory=dict)
    raised: dict[str, list[Raised]] = field(default_factory=dict)
    lows: list[Low] = field(default_factory=list)
    messages: list[tuple[str, int]] = field(default_factory=list)  # person's role, of one night
    person_weeks: dict[str, float] = field(default_factory=dict)
    sent: dict[tuple[str, str], int] = field(default_factory=dict)  # role, topic
    chances: list[Chance] = field(default_factory=list)
    winters: int = 0
    rounds: int = 0

    def event(self, kind: str, event: Event) -> None:
        self.events.setdefault(kind, []).append(event)

    def alarm(self, kind: str, raised: Raised) -> None:
        self.raised.setdefault(kind, []).append(raised)


Spell = tuple[datetime, datetime]
Array = NDArray[np.float64]


def score(winter: Winter, lived: Lived, heard: Heard, total: Score) -> None:
    """Hold one winter's watch against its truth."""
    total.winters += 1
    total.rounds += heard.rounds
    records = {
        (craft["craft"], circuit["circuit"]): circuit
        for craft in winter.records["craft"]
        for circuit in craft["circuits"]
    }
    held: dict[tuple[str, str, str], list[Held]] = {}
    for each in heard.held:
        held.setdefault((each.cause, each.craft or each.space, each.part), []).append(each)
    for craft in lived.truth["craft"]:
        for circuit in craft["circuits"]:
            key = (craft["craft"], circuit["circuit"])
            heatless = _heatless(lived, craft["space"])
            truths = (craft, circuit, lived.truth)
            _frost(winter, heard, held, key, records[key], truths, heatless, total)
        if craft["moved"] or craft["space"] not in OUTDOORS:
            _sweat(winter, heard, held, craft, total)
        _battery(winter, heard, held, craft, total)
    for space in lived.truth["spaces"]:
        _heat(winter, heard, held, space, total)
        _lows(winter, lived, heard, space["space"], total)
    total.chances += chances_of(lived, heard)
    _messages(heard, total)


def joined(held: Iterable[Held], apart: timedelta = APART) -> list[Spell]:
    """Spells of alarms one after another as one."""
    found: list[Spell] = []
    for each in sorted(held, key=lambda one: one.begin):
        if found and each.begin - found[-1][1] <= apart:
            found[-1] = (found[-1][0], max(each.end, found[-1][1]))
        else:
            found.append((each.begin, each.end))
    return found


def lead(spells: Sequence[Spell], at: datetime, after: timedelta = timedelta(0)) -> float:
    """Hours from the begin of the alarm that stands at a time; below 0: raised only after it."""
    for begin, end in spells:
        if begin <= at + after and end >= at:
            return (at - begin) / HOUR
    return nan


def moment(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)


def _frost(
    winter: Winter,
    heard: Heard,
    held: dict[tuple[str, str, str], list[Held]],
    key: tuple[str, str],
    record: dict[str, Any],
    truths: tuple[dict[str, Any], dict[str, Any], dict[str, Any]],
    heatless: Sequence[Spell],
    total: Score,
) -> None:
    craft, truth, yard = truths
    ahead, iced = held.get(("frost", *key), []), held.get(("ice", *key), [])
    spells = joined([*ahead, *iced])
    name = "/".join(key)
    proven = record["state"] == "proven"
    note = f"{record['state']}, {record['basis']}"
    happened = {
        "frost damage": moment(truth["damaged_at"]),
        "first ice": moment(truth["third_ice_at" if proven else "first_ice_at"]),
    }
    for kind, at in happened.items():
        if at is not None and at <= heard.until:
            what = f"{note}, ice {truth['most_ice_share']:.2f}"
            # Nobody can tell six hours before of what is learnt as the craft leaves the heat.
            left = [moment(one["since"]) for one in craft["moved"] if craft["space"] == HEATED]
            kind += ", taken out" if any(one <= at <= one + JUST for one in left) else ""
            total.event(kind, Event(winter.seed, name, at, lead(spells, at), what))
    point_c = -inf if record["ice_point_c"] is None else record["ice_point_c"]
    ice = [(moment(one["from"]), moment(one["to"]) or heard.until) for one in truth["ice"]]
    lows = _night_lows(yard["evenings"], truth["night_lows_c"], heard.yard.zone)
    for begin, end in joined(ahead):
        near = begin + SOON

        def came(until: datetime, warmest_c: float, begin: datetime = begin) -> bool:
            formed = any(first <= until and last >= begin for first, last in ice)
            return formed or any(
                low <= warmest_c and night < until and night + 24 * HOUR > begin
                for night, low in lows
            )

        coldest = min(
            (low for night, low in lows if night < near and night + 24 * HOUR > begin), default=nan
        )
        # Right to say while the heater was lost, whether or not it came back in time.
        lost = any(first <= begin <= last for first, last in heatless)
        total.alarm(
            "frost without heat" if lost else "frost",
            Raised(
                winter.seed,
                name,
                begin,
                came(near, point_c + 1.0),
                came(max(near, end), point_c + 1.0),
                f"{note}, {key[0]} low {coldest:.1f} against {point_c:.1f}",
            ),
        )
    for begin, end in joined(iced):
        formed = any(first <= end and last >= begin - 6 * HOUR for first, last in ice)
        cold = any(low <= point_c and night < end for night, low in lows)
        total.alarm("ice", Raised(winter.seed, name, begin, formed, formed or cold, note))


def _heatless(lived: Lived, space: str) -> list[Spell]:
    return [
        (datetime.fromisoformat(each["from"]), datetime.fromisoformat(each["to"]))
        for one in lived.truth["spaces"]
        if one["space"] == space
        for each in one["heater_lost"]
    ]


def _night_lows(
    evenings: Sequence[str], lows: Sequence[float], zone: ZoneInfo
) -> list[tuple[datetime, float]]:
    """Lows by the noon at which their night begins."""
    noons = [datetime.fromisoformat(f"{day}T12:00").replace(tzinfo=zone) for day in evenings]
    return list(zip(noons, lows, strict=True))


def _sweat(
    winter: Winter,
    heard: Heard,
    held: dict[tuple[str, str, str], list[Held]],
    craft: dict[str, Any],
    total: Score,
) -> None:
    spells = joined(held.get(("sweat", craft["craft"], "engine"), []))
    wet = [
        (moment(one["from"]), moment(one["to"]) or heard.until, one["most_g_m2"])
        for one in craft["metal"]["wet"]
        if moment(one["from"]) < heard.until
    ]
    # Metal that came in cold sweats at once; before that it was no matter of an indoor space.
    came_in = [moment(one["since"]) for one in craft["moved"] if one["space"] == HEATED]
    for begin, end, most in wet:
        for since in came_in:
            if most >= WET_G_M2 and begin <= since + APART and end > since:
                found = [a for a, b in spells if a <= end and b >= since]
                hours = (max(begin, since) - found[0]) / HOUR if found else nan
                note = f"from {craft['space']}, {most:.0f} g/m2"
                kind = "sweating, brought in"
                total.event(kind, Event(winter.seed, craft["craft"], since, hours, note))
                break
        else:
            if most < WET_G_M2 or space_at(craft, begin) in OUTDOORS:
                continue
            found = [(a, b) for a, b in spells if a <= end and b >= begin]
            hours = (begin - found[0][0]) / HOUR if found else nan
            note = f"{craft['space']}, {most:.0f} g/m2"
            total.event("sweating", Event(winter.seed, craft["craft"], begin, hours, note))
    for begin, end in spells:
        if space_at(craft, begin) in OUTDOORS:
            continue
        soon = [most for a, b, most in wet if a <= end + 2 * HOUR and b >= begin - 2 * HOUR]
        told = _told_ahead(heard, craft["craft"], begin)
        first, last = told or (begin, end)
        came = any(a <= last + 2 * HOUR and b >= first - 2 * HOUR for a, b, _ in wet)
        right = bool(soon) and came
        note = f"{craft['space']}, ahead, {first:%m-%d %H:%M} to {last:%H:%M}" if told else ""
        total.alarm("sweat", Raised(winter.seed, craft["craft"], begin, right, bool(soon), note))


def _told_ahead(heard: Heard, craft: str, begin: datetime) -> Spell | None:
    """First dew to dry again, as an alarm began with; None: it began with metal that sweats."""
    said = [each for each in heard.said.get((Hazard.DAMP, craft, "engine"), []) if each.at <= begin]
    if not said or said[-1].standing is not Standing.DEW_AHEAD or said[-1].deadline is None:
        return None
    return said[-1].deadline, said[-1].ends or said[-1].at + _FORECAST


def _battery(
    winter: Winter,
    heard: Heard,
    held: dict[tuple[str, str, str], list[Held]],
    craft: dict[str, Any],
    total: Score,
) -> None:
    truth = craft["battery"]
    if truth is None:
        return
    spells = joined(held.get(("battery-freezing", craft["craft"], "battery"), []))
    at = moment(truth["first_ice_at"])
    note = f"{'aboard' if truth['aboard'] else 'bench'}, {truth['lowest_charge']:.2f} charged"
    if at is not None and at <= heard.until:
        total.event(
            "battery freezing", Event(winter.seed, craft["craft"], at, lead(spells, at), note)
        )
    for begin, end in spells:
        right = at is not None and at <= max(end, begin + SOON)
        # Within 5 K: a voltage tells the charge no better.
        frozen_c = _freezes_c(truth["lowest_charge"])
        near = truth["lowest_c"] <= frozen_c + 5.0
        total.alarm(
            "battery freezing",
            Raised(winter.seed, craft["craft"], begin, right, right or near, note),
        )


def _freezes_c(charge: float) -> float:
    from simulator.battery import freezing_point

    return float(freezing_point(charge))


def _heat(
    winter: Winter,
    heard: Heard,
    held: dict[tuple[str, str, str], list[Held]],
    space: dict[str, Any],
    total: Score,
) -> None:
    if all(one["space"] != space["space"] for one in winter.records["craft"]):
        return  # nothing is stored there, so its alarms are suppressed by design
    stood_at = [
        one
        for cause in ("heat-loss", "heat-off")
        for one in held.get((cause, space["space"], ""), [])
    ]
    if not space["heater_lost"] and not stood_at:
        return
    spells = joined(sorted(stood_at))
    lost = [(moment(one["from"]), moment(one["to"])) for one in space["heater_lost"]]
    weather = winter.plan.weather
    for begin, end in lost:
        if begin >= heard.until:
            continue
        stood = [(a, b) for a, b in spells if a <= end and b >= begin]
        hours = (begin - max(stood[0][0], begin)) / HOUR if stood else nan
        outside_c = float(np.interp(begin.timestamp(), weather.at_s, weather.air_c))
        coldest = float(np.min(_between(weather, begin, end)))
        need = "needed" if outside_c < 3.0 else "mild"
        hours_off = (end - begin) / HOUR
        note = f"{need}, {outside_c:.0f} outside, down to {coldest:.0f} in {hours_off:.0f} h"
        total.event("heater loss", Event(winter.seed, space["space"], begin, hours, note))
        for frozen in space["below_zero"]:
            at = moment(frozen["from"])
            if begin <= at <= end:
                ahead = (at - stood[0][0]) / HOUR if stood else nan
                total.event("shop at 0 °C", Event(winter.seed, space["space"], at, ahead, note))
    for begin, _ in spells:
        right = any(a <= begin <= b + 12 * HOUR for a, b in lost)
        door = any(
            moment(one["from"]) <= begin <= moment(one["to"]) + HOUR for one in space["door_open"]
        )
        note = "door" if door else ""
        total.alarm(
            "heat loss", Raised(winter.seed, space["space"], begin, right, right or door, note)
        )


def _between(weather: Any, begin: datetime, end: datetime) -> Any:
    span = (weather.at_s >= begin.timestamp()) & (weather.at_s <= end.timestamp())
    return weather.air_c[span] if span.any() else np.array([nan])


def _lows(winter: Winter, lived: Lived, heard: Heard, space: str, total: Score) -> None:
    """Forecasts of an evening against what the space's coldest sensor then read until noon.

    The judgement speaks of the coldest corner, which is colder than the space that the truth
    knows; last night's low is that of the same hours.
    """
    said = heard.said.get((Hazard.AIR, space, ""), [])
    at = np.array([one.at.timestamp() for one in said])
    read_s, coldest_c = _coldest(winter, lived, space)
    if not at.size or not read_s.size:
        return
    zone = heard.yard.zone
    for night in lived.truth["evenings"][LEARNING_NIGHTS:]:
        for hour in EVENINGS_AT:
            evening = datetime.fromisoformat(f"{night}T{hour:02d}:00").replace(tzinfo=zone)
            noon = evening.replace(hour=12) + timedelta(days=1)
            near = int(np.argmin(np.abs(at - evening.timestamp())))
            late = abs(at[near] - evening.timestamp()) > _ROUND_WITHIN_S
            if late or noon > heard.until or not np.isfinite(said[near].expected_c):
                continue
            low_c, last_c = (
                _lowest(read_s, coldest_c, evening - back, noon - back)
                for back in (timedelta(0), timedelta(days=1))
            )
            if np.isfinite(low_c) and np.isfinite(last_c):
                one = said[near]
                total.lows.append(
                    Low(winter.seed, space, night, hour, one.low_c, one.expected_c, last_c, low_c)
                )


def _coldest(winter: Winter, lived: Lived, space: str) -> tuple[Array, Array]:
    """What the coldest air sensor of a space read, in steps of ten minutes."""
    step_s = 600.0
    courses = []
    begin, end = winter.start.timestamp(), winter.end.timestamp()
    grid = np.arange(begin, end, step_s)
    for record in winter.records["sensors"]:
        if record["space"] == space and record["mount"] == "air":
            at_s, channels = lived.readings[record["sensor"]]
            order = np.argsort(at_s, kind="stable")
            course = np.interp(grid, at_s[order], channels["temperature"][order])
            after = np.clip(np.searchsorted(at_s[order], grid), 1, at_s.size - 1)
            silent = at_s[order][after] - at_s[order][after - 1] > 7200.0
            courses.append(np.where(silent, nan, course))
    if not courses:
        return np.empty(0), np.empty(0)
    return grid, np.min(courses, axis=0)  # NaN where one is silent: it may be the coldest


def _lowest(read_s: Array, coldest_c: Array, begin: datetime, end: datetime) -> float:
    span = coldest_c[slice(*np.searchsorted(read_s, [begin.timestamp(), end.timestamp()]))]
    known = np.isfinite(span)
    return float(span[known].min()) if span.size and known.mean() > 0.9 else nan


def _messages(heard: Heard, total: Score) -> None:
    """How many each person got each night, from noon to noon."""
    zone = heard.yard.zone
    nights: dict[tuple[str, str], int] = {}
    for told in heard.told:
        evening = (told.at.astimezone(zone) - 12 * HOUR).date().isoformat()
        role = told.person.split("-")[0]
        nights[told.person, evening] = nights.get((told.person, evening), 0) + 1
        total.sent[role, told.topic] = total.sent.get((role, told.topic), 0) + 1
    total.messages += [(person.split("-")[0], count) for (person, _), count in nights.items()]
    weeks = heard.weeks
    for person in heard.yard.people:
        role = person.id.split("-")[0]
        total.person_weeks[role] = total.person_weeks.get(role, 0.0) + weeks
