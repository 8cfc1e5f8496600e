"""One winter lived through: readings into a real store as they arrive, rounds, alarms, people.

For speed the readings go in by the store's bulk append, which intake uses too; `wire` has a way
over a real broker and the real intake instead.
"""

import tempfile
from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from monitor.alarms.acts.alarm_acts import acknowledge_thread_within
from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock, from_ms, to_ms
from monitor.craft.stored import StoredCraft
from monitor.judgement.round import Round
from monitor.phrases.figures import figures_of
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.forecast import PublicForecast
from monitor.yard.message import Message, MessageKind
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Role, SpaceKind, Yard
from simulator.forecast import issues
from simulator.winter import Lived, Winter
from tests.bench.scoring.records import craft_of, yard_of

AGAIN = timedelta(minutes=30)  # after a round that found something new and grave
CLOSELY = timedelta(minutes=5)  # while a heater has just failed: what is scored is minutes
CLOSELY_FOR = timedelta(hours=4)
_EVEN = datetime(2000, 1, 1, 1, tzinfo=UTC)  # rounds keep step with it: 16:00 and 19:00 in Chicago
FORECAST_AFTER = timedelta(minutes=40)  # from issue until a yard has fetched it
# What has a delay of minutes before its alarm; ice has been told of as frost ahead.
_GRAVE = frozenset(
    {Standing.FALLING, Standing.FREEZING, Standing.SWEATING, Standing.FROSTING, Standing.DEW_AHEAD}
)
_HELD = frozenset({AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED, AlarmState.SUPPRESSED})


class Said(NamedTuple):
    """What one round said of one subject."""

    at: datetime
    standing: Standing
    low_c: float
    expected_c: float
    high_c: float
    now_c: float
    limit_c: float
    deadline: datetime | None = None
    ends: datetime | None = None
    chance: float = np.nan  # of what its hazard brings until the noon


class Held(NamedTuple):
    """From when to when one cause's alarm stood over one subject."""

    cause: str
    space: str
    craft: str
    part: str
    begin: datetime
    end: datetime


class Told(NamedTuple):
    """One message that a person got."""

    at: datetime
    person: str
    topic: str
    kind: MessageKind


class Crew(Protocol):
    """People who read each letter, and do what it asks."""

    def rounds_of(self, store: Store, yard: Yard, clock: ReadingsClock) -> AlarmRound:
        """The rounds of alarms whose letters they read."""
        ...

    def craft_after_work(self, craft: Sequence[StoredCraft]) -> list[StoredCraft]:
        """The craft after what they did up to now."""
        ...


class Brings(Protocol):
    """A way for a winter's readings into the store."""

    def bring(self, now: datetime) -> datetime | None:
        """Store what has arrived by now; returns the time of the oldest reading of it."""
        ...


Way = Callable[[Store, Yard, ReadingsClock], AbstractContextManager[Brings]]


@dataclass(slots=True)
class Heard:
    """All that a winter's watch said."""

    yard: Yard
    until: datetime
    weeks: float
    rounds: int = 0
    said: dict[tuple[Hazard, str, str], list[Said]] = field(default_factory=dict)
    held: list[Held] = field(default_factory=list)
    told: list[Told] = field(default_factory=list)


def watch(
    winter: Winter,
    lived: Lived,
    every: timedelta,
    *,
    forecasts: bool,
    way: Way | None = None,
    crew: Crew | None = None,
) -> Heard:
    """Watch a winter as a daemon would, only less often.

    Parameters
    ----------
    winter, lived : Winter, Lived
        The truth in ``lived`` says only when to look closely: see the notes.
    every : timedelta
        Between two rounds.
    forecasts : bool
        Whether the yard has a public forecast.
    way : callable, optional
        Opens a way for the readings into the store; by bulk append if not given.
    crew : Crew, optional
        Without it letters are acknowledged, and nothing is done.

    Notes
    -----
    A daemon turns each minute. Here a round that finds something new and grave is followed by
    another after half an hour, so that alarms with a delay are raised; and for four hours after
    a heater's failure rounds come every five minutes, because what is scored there is minutes.
    Whoever of the staff gets a message acknowledges it at the next round, and nothing else is
    done about anything: the truth of what happened goes on.
    """
    with tempfile.TemporaryDirectory(dir=_memory_disk()) as folder:
        url = f"sqlite:///{folder}/winter.db"
        migrate(url)
        store = Store(url, winter.plan.id)
        try:
            yard, clock = yard_of(winter.records), ReadingsClock(winter.start)
            opened = way(store, yard, clock) if way else nullcontext(Arrivals(store, winter, lived))
            with opened as arrivals:
                return _watch(
                    winter, lived, store, yard, clock, arrivals, every, forecasts=forecasts,
                    crew=crew,
                )  # fmt: skip
        finally:
            store.close()


def _memory_disk() -> str | None:
    """A disk in memory where there is one: durability is not what is measured."""
    return "/dev/shm" if Path("/dev/shm").is_dir() else None


def _watch(
    winter: Winter,
    lived: Lived,
    store: Store,
    yard: Yard,
    clock: ReadingsClock,
    arrivals: Brings,
    every: timedelta,
    *,
    forecasts: bool,
    crew: Crew | None,
) -> Heard:
    end = winter.end.astimezone(UTC)
    judgement = Round(store, yard, clock)
    alarms = AlarmRound(store, yard, clock) if crew is None else crew.rounds_of(store, yard, clock)
    staff = {each.id for each in yard.people if Role.OWNER not in each.roles}
    if forecasts:
        _keep_forecasts(store, winter)
    heard = Heard(yard=yard, until=end, weeks=(winter.end - winter.start) / timedelta(weeks=1))
    unread: list[Message] = []
    failures = [
        datetime.fromisoformat(each["from"])
        for space in lived.truth["spaces"]
        for each in space["heater_lost"]
    ]
    outdoors = {one.id for one in yard.spaces if one.kind in {SpaceKind.OPEN, SpaceKind.WRAPPED}}
    now = winter.start.astimezone(UTC)
    grave = False
    moves = [datetime.fromisoformat(each["since"]) for each in winter.records["moves"]]
    while (now := _next(now, every, failures, moves, grave=grave)) <= end:
        clock.advance_to(now)
        late = arrivals.bring(now)
        craft = craft_of(winter.records, now)
        craft = craft if crew is None else crew.craft_after_work(craft)
        named = {each.id: each for each in craft}
        for message in unread:
            if message.person in staff and message.kind is not MessageKind.ALL_CLEAR:
                with store.transaction() as tx:
                    acknowledge_thread_within(tx, message.thread, message.person, "", clock.now())
        changed = judgement.run(craft, late).changed
        grave = any(
            each.standing in _GRAVE and each.subject.space not in outdoors for each in changed
        )
        written = alarms.run(named).messages
        with store.snapshot() as tx:
            judged = tx.assessments.latest_judgements()
            unread = (
                [message for message, _ in tx.outbox.newest_messages(written)] if written else []
            )
        _listen(heard, now, judged, unread)
    heard.held = _held(store, winter.start.astimezone(UTC), end)
    return heard


def _next(
    now: datetime,
    every: timedelta,
    failures: Sequence[datetime],
    moves: Sequence[datetime],
    *,
    grave: bool,
) -> datetime:
    """When the next round is run; one as soon as a craft was moved and put on record."""
    due = _EVEN + every * ((now - _EVEN) // every + 1)
    due = min([due, *(at for at in moves if at > now)])
    if grave:
        due = min(due, now + AGAIN)
    for begin in failures:
        if begin - CLOSELY <= now < begin + CLOSELY_FOR:
            due = min(due, now + CLOSELY)
        elif now < begin - CLOSELY < due:
            due = begin - CLOSELY
    return due


class Arrivals:
    """A winter's readings in the order in which they reach the yard."""

    def __init__(self, store: Store, winter: Winter, lived: Lived) -> None:
        self._store = store
        keys = [
            (name, Channel(label))
            for name, (_, channels) in lived.readings.items()
            for label in channels
        ]
        with store.transaction() as tx:
            ids = tx.series.series_ids(keys)
        columns = []
        for name, (at_s, channels) in lived.readings.items():
            arrives = np.round(_arrival_s(winter, name, at_s) * 1000.0).astype(np.int64)
            at_ms = np.round(at_s * 1000.0).astype(np.int64)
            for label, values in channels.items():
                channel = Channel(label)
                steps = np.round(values / channel.resolution)
                known = np.isfinite(steps)
                series = np.full(int(known.sum()), ids[name, channel], dtype=np.int64)
                steps = steps[known].astype(np.int64)
                columns.append(np.stack([arrives[known], series, at_ms[known], steps]))
        table = np.concatenate(columns, axis=1)
        self._table: NDArray[np.int64] = table[:, np.argsort(table[0], kind="stable")]
        self._next = 0

    def bring(self, now: datetime) -> datetime | None:
        """Store what has arrived by now; returns the time of the oldest reading of it."""
        until = int(np.searchsorted(self._table[0], to_ms(now), side="right"))
        new = self._table[1:, self._next : until]
        self._next = until
        if not new.shape[1]:
            return None
        flag = int(Flag.PASS)
        rows = [(series, at, value, None, flag) for series, at, value in new.T.tolist()]
        with self._store.transaction() as tx:
            tx.reading_writer.append_rows(rows)
        return from_ms(int(new[1].min()))


def _arrival_s(winter: Winter, name: str, at_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """When readings reach the yard: at once, or all after a silence that a logger bridged."""
    fault = winter.faults[name.removeprefix(f"urn:dev:ops:{winter.plan.id}-")]
    arrives = np.array(at_s, dtype=np.float64)
    # A wrong clock shifts what a reading says of itself, not when it comes.
    arrives -= fault["clock_off_s"]
    for outage in fault["outages"]:
        if outage.logged:
            arrives[(arrives >= outage.start_s) & (arrives < outage.end_s)] = outage.end_s
    return arrives


def _keep_forecasts(store: Store, winter: Winter) -> None:
    with store.transaction() as tx:
        for issue in issues(winter.plan.weather, winter.seed):
            issued = datetime.fromtimestamp(issue.issued_s, UTC)
            tx.forecasts.keep_issue(
                PublicForecast(
                    source="agency",
                    issued=issued,
                    fetched=issued + FORECAST_AFTER,
                    at_ms=np.round(issue.at_s * 1000.0).astype(np.int64),
                    air_c=issue.air_c,
                    dew_point_c=issue.dew_point_c,
                )
            )


def _listen(
    heard: Heard, now: datetime, judged: Sequence[Assessment], unread: Sequence[Message]
) -> None:
    heard.rounds += 1
    for each in judged:
        if each.hazard is Hazard.SILENCE:
            continue
        subject = each.subject
        key = (each.hazard, subject.craft or subject.space, subject.part)
        figures = figures_of(each)
        expected, high = (
            figures.get(name, np.nan) for name in ("low_expected_c", "low_band_high_c")
        )
        edge_c = figures.get("low_band_low_c", each.low_c)
        said = Said(
            now, each.standing, edge_c, expected, high, each.now_c, each.limit_c,
            each.deadline, each.ends, _chance_of(each.hazard, figures),
        )  # fmt: skip
        heard.said.setdefault(key, []).append(said)
    heard.told += [
        Told(message.created_at, message.person, message.thread.split("/")[0], message.kind)
        for message in unread
    ]


_CHANCES = {
    Hazard.DAMP: "chance_sweating",
    Hazard.BATTERY: "chance_freezing",
    Hazard.AIR: "chance_below_zero",
}


def _chance_of(hazard: Hazard, figures: dict[str, float]) -> float:
    return figures.get(_CHANCES.get(hazard, ""), np.nan)


def _held(store: Store, begin: datetime, end: datetime) -> list[Held]:
    """Every spell of every alarm, from its own history."""
    found = []
    with store.snapshot() as tx:
        for alarm in tx.alarms.raised_between(begin, end + timedelta(seconds=1)):
            since: datetime | None = None
            subject = (alarm.cause, alarm.space, alarm.craft, alarm.part)
            for event in tx.alarms.history_of(alarm.id):
                if event.after in _HELD and since is None:
                    since = event.at
                if event.after not in _HELD and since is not None:
                    found.append(Held(*subject, since, event.at))
                    since = None
            if since is not None:
                found.append(Held(*subject, since, end))
    return sorted(found, key=lambda each: each.begin)
