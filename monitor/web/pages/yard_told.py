"""The yard's own parts as its pages tell them: sensors, people, limits of alarms, past changes."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.alarms.definitions import Definition
from monitor.clock import from_ms
from monitor.phrases.names import plain, sensor_label
from monitor.phrases.supplies import minutes_words
from monitor.store.store import Store
from monitor.web.access.roles import Right
from monitor.web.access.visitor import Visitor
from monitor.web.pages.yard_desk import CHANGED_PARTS, value_words
from monitor.wording import Wording, listed
from monitor.yard.people import names_by_id
from monitor.yard.readers import words_for
from monitor.yard.space import Person, Sensor, Yard
from monitor.yard.yard_change import ALWAYS, YardChange, YardPart, changes_by_item

_FIELD = {
    "value": "",
    "height_m": "height (m)",
    "mount": "touches",
    "design_low": "design low",
    "latitude": "latitude",
    "roles": "role",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class HungSensor:
    """One sensor where it hangs."""

    sensor: Sensor
    label: str
    space: str
    since: str  # empty: as long as the yard's file has it
    heard: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldChange:
    """One change in words."""

    number: int
    at: datetime
    by: str
    what: str
    lines: tuple[str, ...]
    can_be_undone: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LimitLine:
    """One cause of alarm with its limits in words."""

    cause: str
    title: str
    limits: str  # a sentence


def sensor_rows(store: Store, yard: Yard, words: Wording) -> list[HungSensor]:
    """Every sensor of the yard with what it said last, by space."""
    with store.snapshot() as tx:
        latest = tx.yard_readings.latest_readings()
    names = {one.id: plain(one.name) for one in yard.spaces}
    rows = []
    for one in yard.sensors:
        said = [reading for (sensor, _), reading in latest.items() if sensor == one.name]
        newest = max((reading.at_ms for reading in said), default=None)
        values = ", ".join(
            value_words(reading.channel, reading.value, words)
            for reading in sorted(said, key=lambda reading: str(reading.channel))
        )
        rows.append(
            HungSensor(
                sensor=one,
                label=sensor_label(one.name),
                space=names.get(one.space, one.space),
                since=words.clock(one.since) if one.since else "",
                heard=f"{values}, {words.clock(from_ms(newest))}" if newest else "not heard yet",
            )
        )
    order = {one.id: number for number, one in enumerate(yard.spaces)}
    return sorted(rows, key=lambda row: (order.get(row.sensor.space, 99), row.label))


def people_rows(yard: Yard) -> list[tuple[Person, str]]:
    """Everybody who is told things, the yard's own first, and how each is reached."""
    order = ("operator", "mechanic", "owner")

    def weight(person: Person) -> tuple[int, str]:
        return min(order.index(one.value) for one in person.roles), person.name.casefold()

    return [(one, reached_words(one)) for one in sorted(yard.people, key=weight)]


def reached_words(person: Person) -> str:
    """How messages reach a person."""
    ways = [f"{one} to {person.address_on(one)}" for one in person.reached_by]
    return " and ".join(ways) if ways else "nothing reaches them"


def limit_lines(definitions: Iterable[Definition], words: Wording) -> list[LimitLine]:
    """Each cause of alarm: who hears, after how long it is raised and ends, when it asks again."""
    return [
        LimitLine(cause=one.cause, title=one.title, limits=_limits_sentence(one, words))
        for one in definitions
    ]


def _limits_sentence(one: Definition, words: Wording) -> str:
    people = listed(sorted(f"{role}s" for role in one.tells))
    raised = f"once it has held for {_span(one.on_delay)}" if one.on_delay else "at once"
    clear = f" by {words.difference(one.clears_above_k)}" if one.clears_above_k else ""
    over = f"{_span(one.off_delay)} after it is over{clear}" if one.off_delay else ""
    ends = over or (f"once it is over{clear}" if clear else "as soon as it is over")
    again = f" Asks again {_span(one.realarm)} after somebody took it on." if one.realarm else ""
    return f"Told to {people} {raised}; ends {ends}.{again}"


def _span(span: timedelta) -> str:
    """A delay as a person says it: ``10 min``, ``1 h 30 min``, ``30 h``; at least a second."""
    seconds = span.total_seconds()
    return minutes_words(seconds / 60.0) if seconds >= 60.0 else f"{max(seconds, 1.0):.0f} s"


def changes_told(
    changes: Sequence[YardChange], yard: Yard, visitor: Visitor, now: datetime
) -> list[ToldChange]:
    """Changes in words, the newest first; the last one of each item can be taken back."""
    words = words_for(yard, now, visitor.person)
    people = names_by_id(yard)
    last = {ours[-1].number for ours in changes_by_item(changes).values()}
    mine = visitor.may(Right.CHANGE_YARD) and visitor.person is not None
    return [
        ToldChange(
            number=one.number,
            at=one.at,
            by=plain(people.get(one.by, one.by)),
            what=_what_of(one),
            lines=tuple(_lines_of(one, yard, words)),
            can_be_undone=mine and one.number in last,
        )
        for one in reversed(changes)
    ]


def _what_of(change: YardChange) -> str:
    part = CHANGED_PARTS[change.part]
    if change.part is YardPart.YARD:
        what = f"The yard's {_field(change.key)}"
    elif change.part is YardPart.DUTY:
        what = "Hands and duty"
    else:
        said = change.after or change.before or {}
        name = said.get("name") or said.get("label") or said.get("note") or sensor_label(change.key)
        what = f"{part.capitalize()} {plain(str(name))}"
    if change.undoes is not None:
        return f"{what}: taken back"
    if change.before is None and change.part is not YardPart.YARD:
        return f"{what}: new"
    return f"{what}: taken out" if change.after is None else what


def _lines_of(change: YardChange, yard: Yard, words: Wording) -> Iterable[str]:
    before, after = change.before or {}, change.after or {}
    for name in dict.fromkeys((*before, *after)):
        was, now = before.get(name), after.get(name)
        if was != now:
            label = _field(name)
            yield f"{label}: {_value(was, yard)} → {_value(now, yard)}".removeprefix(": ")
    if change.part is YardPart.SENSORS and change.since <= ALWAYS:
        yield "has hung there all along"
    elif change.part is YardPart.SENSORS and change.since != change.at:
        yield f"hangs there since {words.clock(change.since)}"


def _field(name: str) -> str:
    return _FIELD.get(name, name.replace("_", " "))


def _value(said: object, yard: Yard) -> str:
    if said is None:
        return "nothing"
    if isinstance(said, list) and all(isinstance(one, dict) for one in said):
        return f"{len(said)} rows"
    if isinstance(said, list):
        return ", ".join(str(one) for one in said)
    spaces = {one.id: one.name for one in yard.spaces}
    return plain(str(spaces.get(str(said), said)))
