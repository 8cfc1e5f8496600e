"""What came of a winter: nothing acknowledged lost, every alarm at its person, nothing grows."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from statistics import median

import numpy as np

from monitor.alarms.definitions import DEFINITIONS
from monitor.yard.alarm import Topic
from monitor.yard.reading import Channel
from tests.bench.winter.faults import Struck
from tests.bench.winter.stage import Arrived, Stage, Step, one_line
from tests.bench.winter.yard import NAMES

# A disturbed watch may say it sooner, for it knew less, or later by what kept it from judging.
_SOONER, _LATER = timedelta(hours=30), timedelta(hours=14)
_ONCE_A_DAY = timedelta(hours=26)  # letters of what may wait leave so often, and at most
_OF_A_SPACE = frozenset({Topic.DAMP, Topic.HEAT})
# Where nothing is heard of a space the operator is told to read it by hand, and nobody of a part.
_BLIND = frozenset({"silence-urgent", "blind-space"})
_TOLD_WITHIN = timedelta(hours=36)  # after an alarm is raised; letters leave twice a day


@dataclass(frozen=True, slots=True)
class Raised:
    """One alarm."""

    cause: str
    space: str
    craft: str
    part: str
    raised: datetime
    cleared: datetime | None

    @property
    def subject(self) -> tuple[str, str, str, str]:
        """What it is about."""
        return self.cause, self.space, self.craft, self.part

    @property
    def danger(self) -> tuple[str, ...]:
        """What a letter tells once, whichever cause of it comes first: wet is wet in a space."""
        topic = topic_of(self)
        return (topic, self.space) if topic in _OF_A_SPACE else self.subject

    @property
    def name(self) -> str:
        """By which a letter names it."""
        return NAMES.get(self.craft or self.space, "")

    def held_in(self, begin: datetime, end: datetime) -> bool:
        """Whether it stood at any time between two."""
        return self.raised <= end and (self.cleared is None or self.cleared >= begin)


@dataclass(frozen=True, slots=True)
class Written:
    """One message of the outbox."""

    person: str
    topics: frozenset[str]  # of its thread, and of those whose news went along in it
    kind: str
    created: datetime
    outcome: str
    subject: str
    text: str

    def names(self, name: str) -> bool:
        """Whether it names a craft or space."""
        return bool(name) and name in self.text


@dataclass(frozen=True, slots=True)
class Kept:
    """What a run left in its store and at its people."""

    alarms: list[Raised]
    written: list[Written]
    arrived: list[Arrived]
    lost: list[tuple[str, str, int]]  # readings that the broker acknowledged
    aside: int  # of those, how many are kept aside
    doubled: int
    readings: int
    until: datetime
    changed: int  # stored with another value than was sent


def collect(stage: Stage) -> Kept:
    """Read what a run left behind."""
    alarms = [
        Raised(str(cause), str(space), str(craft), str(part), _time(raised), _or_none(cleared))
        for cause, space, craft, part, raised, cleared in stage.ask(
            "SELECT cause, space, craft, part, raised_ms, cleared_ms FROM alarms ORDER BY raised_ms"
        )
    ]
    topics = _topics_by_thread(stage)
    written = [
        Written(
            str(person), topics.get(str(thread), frozenset()), str(kind), _time(created),
            str(outcome), one_line(str(subject)), one_line(f"{subject} {words}"),
        )
        for person, thread, kind, created, outcome, subject, words in stage.ask(
            "SELECT person, thread, kind, created_ms, outcome, subject, text FROM outbox"
            " WHERE channel = 'mail' ORDER BY created_ms"
        )
    ]  # fmt: skip
    stored = {(sensor, channel, at_ms): (value, n) for sensor, channel, at_ms, value, n
              in stage.readings()}  # fmt: skip
    payloads = b"\n".join(bytes(row[0]) for row in stage.ask("SELECT payload FROM aside"))  # type: ignore[call-overload]
    lost, aside, changed = [], 0, 0
    for (sensor, label, at_ms), value in stage.published.items():
        found = stored.get((sensor, label, at_ms))
        if found is None:
            if f'"bn": "{sensor}:"'.encode() in payloads:
                aside += 1
            else:
                lost.append((sensor, label, at_ms))
        elif found[0] != round(value / Channel(label).resolution):
            changed += 1
    return Kept(
        alarms, written, list(stage.mail.arrived), lost, aside,
        sum(n > 1 for _, n in stored.values()), len(stored), stage.story.now, changed,
    )  # fmt: skip


def _topics_by_thread(stage: Stage) -> dict[str, frozenset[str]]:
    rows = stage.ask("SELECT thread, topic, body FROM conversations")
    topics = {str(thread): str(topic) for thread, topic, _ in rows}
    along = {
        str(thread): json.loads(str(body))["conversation"]["along"] for thread, _, body in rows
    }
    return {
        thread: frozenset({topic, *(topics[one] for one in along[thread] if one in topics)})
        for thread, topic in topics.items()
    }


def _time(at_ms: object) -> datetime:
    return datetime.fromtimestamp(int(at_ms) / 1000, UTC)  # type: ignore[call-overload]


def _or_none(at_ms: object) -> datetime | None:
    return None if at_ms is None else _time(at_ms)


def topic_of(alarm: Raised) -> Topic:
    """What its letters are about."""
    return DEFINITIONS[alarm.cause].topic


def _letters_of(run: Kept, alarm: Raised) -> list[Arrived]:
    """What arrived of the alarm's topic and names what it is about."""
    topic = str(topic_of(alarm))
    subjects = {
        (one.person, one.subject)
        for one in run.written
        if topic in one.topics and one.names(alarm.name)
    }
    return [mail for mail in run.arrived if (mail.to, mail.subject) in subjects]


def told_of(run: Kept, alarm: Raised) -> dict[str, datetime]:
    """Who was told of an alarm, and when the first letter that names it arrived."""
    told: dict[str, datetime] = {}
    for mail in _letters_of(run, alarm):
        if alarm.raised <= mail.at <= alarm.raised + _TOLD_WITHIN:
            told.setdefault(mail.to, mail.at)
    return told


@dataclass(frozen=True, slots=True)
class Missed:
    """Somebody who was told of an alarm in the undisturbed winter, and was not in the other."""

    alarm: Raised
    person: str
    told_at: datetime  # in the undisturbed one
    raised: bool  # whether the alarm stood in the disturbed one


def compare(calm: Kept, disturbed: Kept) -> tuple[int, list[Missed]]:
    """How many tellings were due by the undisturbed winter, and which of them did not come.

    What was told so late that the other winter may have ended before is not counted.
    """
    due, missed = 0, []
    for alarm in calm.alarms:
        for person, at in told_of(calm, alarm).items():
            later = _ONCE_A_DAY if topic_of(alarm) is Topic.DAMP else _LATER
            if at + later > calm.until:
                continue
            due += 1
            same = [
                one
                for one in disturbed.alarms
                if one.danger == alarm.danger and one.held_in(alarm.raised - _SOONER, at + later)
            ]
            blind = [
                one
                for one in disturbed.alarms
                if one.cause in _BLIND
                and one.space == alarm.space
                and one.held_in(alarm.raised - _LATER, at + later)
            ]
            told = any(
                max(one.raised, alarm.raised - _SOONER) <= mail.at <= at + later
                # Who is to read a space by hand is told so, and enters what he reads.
                and (mail.to == person or one.cause in _BLIND)
                for one in same or blind
                for mail in _letters_of(disturbed, one)
            )
            if not told:
                missed.append(Missed(alarm, person, at, bool(same)))
    return due, missed


def not_arrived(run: Kept) -> list[Written]:
    """Messages that were written and have not come to their person."""
    came = {(one.to, one.subject) for one in run.arrived}
    return [one for one in run.written if (one.person, one.subject) not in came]


def slope(hours: Sequence[Step], what: str, days: float) -> float:
    """How much a figure of each hour grows in so many days, by least squares."""
    at = np.array([one.at.timestamp() for one in hours]) / 86400.0
    values = np.array([float(getattr(one, what)) for one in hours])
    return float(np.polyfit(at, values, 1)[0]) * days


def processor_s(hours: Sequence[Step]) -> list[float]:
    """Processor time of each hour that was judged by a process that had been there before it."""
    return [
        after.processor_s - before.processor_s
        for before, after in pairwise(hours)
        if after.judged and before.judged and after.processor_s > before.processor_s
    ]


def told_after_h(kept: Kept, one: Struck, start: datetime) -> tuple[float, str] | None:
    """Hours from a fault's beginning to the first mail that tells of it, and its subject."""
    begin = start + timedelta(hours=one.begin)
    until = start + timedelta(hours=one.end + 24)
    for mail in kept.arrived:
        if begin <= mail.at <= until and any(words in mail.text for words in one.fault.words):
            return (mail.at - begin) / timedelta(hours=1), mail.subject
    return None


def thirds(values: Sequence[float]) -> tuple[float, float]:
    """Median of the first third and of the last one."""
    third = max(len(values) // 3, 1)
    return median(values[:third]), median(values[-third:])
