"""One round of judgement over the store: read in one snapshot, compute, write in one go."""

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from monitor.clock import Clock, to_ms
from monitor.craft.stored import StoredCraft
from monitor.judgement.air.grid import MS_PER_H, PAST_H, series_needed, space_airs
from monitor.judgement.air.past_weeks import WEEKS_H, Memory
from monitor.judgement.air.placed_traces import by_place
from monitor.judgement.air.recent_readings import SPAN_H, RecentReadings, read_past_traces
from monitor.judgement.air.sensor_doubt import exchanged_before, stuck_before
from monitor.judgement.evening_word import (
    SETTLED_AGAIN,
    evening_due,
    nights_over,
    nights_said,
)
from monitor.judgement.grouped_judgements import GroupedJudgements, key_of
from monitor.judgement.groups import part_groups
from monitor.judgement.judge import judge_groups
from monitor.judgement.watch.silence import judge_forecast
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.yard.assessment import NOT_KEPT, Assessment, Origin
from monitor.yard.space import Yard, sensors_of_place


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundSummary:
    """What one round found."""

    changed: tuple[Assessment, ...]  # whose standing is not what it was
    count: int
    seconds: float


class Round:
    """Judges the yard at each call of `run`, and carries the round before over."""

    def __init__(
        self,
        store: Store,
        yard: Yard,
        clock: Clock,
        *,
        forecast: str | None = None,
        origin: Origin = NOT_KEPT,
    ) -> None:
        """Remember what to judge by; nothing is read yet.

        Parameters
        ----------
        store : Store
        yard : Yard
        clock : Clock
        forecast : str, optional
            Source of the public forecast that the yard has configured: its age is judged too.
        origin : Origin, optional
            Program and settings to keep with each change of standing.
        """
        self._forecast = forecast
        self._origin = origin
        self._store = store
        self._yard = yard
        self._clock = clock
        self._series = series_needed(yard)
        self._recent = RecentReadings(self._series)
        self._memory = Memory()
        self._learnt_h = PAST_H  # how far back the memory reaches; the newest weeks first
        self._outlook_until: datetime | None = None
        self._earlier: GroupedJudgements | None = None  # this yard's only round keeps it
        self._evening_kept: date | None = None  # of which it is kept what was said

    def take_yard(self, yard: Yard, origin: Origin) -> None:
        """Judge from now on by the yard as people have changed it; not while `run` is at work."""
        same = (yard.spaces, yard.sensors, yard.earlier_sensors, yard.zone) == (
            self._yard.spaces, self._yard.sensors, self._yard.earlier_sensors, self._yard.zone,
        )  # fmt: skip
        same = same and (yard.latitude, yard.longitude) == (
            self._yard.latitude, self._yard.longitude,
        )  # fmt: skip
        self._yard, self._origin = yard, origin
        if same:
            return
        # Other readings count to other places: the past is learnt anew, the newest first.
        self._series = series_needed(yard)
        self._recent = RecentReadings(self._series)
        self._memory, self._learnt_h = Memory(), PAST_H
        self._outlook_until, self._earlier = None, None

    def run(self, craft: Sequence[StoredCraft], late: datetime | None = None) -> RoundSummary:
        """Judge the yard now and keep the judgements.

        Parameters
        ----------
        craft : sequence of StoredCraft
            Those in the yard's care now.
        late : datetime, optional
            Time of the oldest reading that came since the last round: a logger's backlog changes
            what the past weeks were.

        Returns
        -------
        RoundSummary

        Raises
        ------
        StoreError
            If the store cannot be read or written; nothing of the round is kept then.

        Notes
        -----
        Nothing is computed inside a transaction: a long one would hold up intake.
        """
        began = time.perf_counter()
        now = self._clock.now()
        if late is not None and now - late > timedelta(hours=PAST_H):
            self._learnt_h = PAST_H
        with self._store.snapshot() as tx:
            if self._learnt_h < WEEKS_H:
                # A stretch a round: a yard that starts is judged at once, and soon better.
                load_stretch(tx, self._yard, self._memory, now - timedelta(hours=self._learnt_h))
                self._learnt_h += PAST_H
            load_forecasts(tx, self._memory, self._outlook_until, now)
            traces = self._recent.read_traces(tx, now, late)
            asking = tx.forecasts.asking_of(self._forecast) if self._forecast else None
            evening = evening_due(now, self._yard)
            evening = None if evening == self._evening_kept else evening
            said = tx.said_nights.nights_since(evening - SETTLED_AGAIN) if evening else []
            earlier = self._earlier
            if earlier is None:
                earlier = GroupedJudgements(
                    {key_of(each): each for each in tx.assessments.latest_judgements()}
                )
                self._memory.exchanged = exchanged_before(earlier.judged.values())
                self._memory.stuck = stuck_before(earlier.judged.values())
        self._outlook_until = now
        kinds = part_groups(self._yard, list(craft), earlier, now)
        found = judge_groups(self._yard, kinds, traces, now, earlier, self._memory)
        judged = found.assessments_in_order(self._yard, now)
        if asking is not None:
            judged.append(judge_forecast(asking, self._yard, now))
        over = nights_over(said, self._memory.spaces, self._yard, now)
        with self._store.transaction() as tx:
            changed = tx.assessments.replace_judgements(judged, self._origins_of(craft))
            if evening is not None:
                tx.said_nights.add(nights_said(judged, evening))
                tx.said_nights.settle_nights(over)
        self._evening_kept = evening or self._evening_kept
        self._earlier = found
        return RoundSummary(
            changed=tuple(changed), count=len(judged), seconds=time.perf_counter() - began
        )

    def _origins_of(self, craft: Sequence[StoredCraft]) -> dict[str, Origin]:
        """What this round's judgements are made by, by craft; of spaces under the empty key."""
        own = {each.id: replace(self._origin, profile=each.profile_digest) for each in craft}
        return {"": self._origin} | own


def load_past_weeks(store: Store, yard: Yard, now: datetime) -> Memory:
    """Memory of all weeks before ``now``, for judging one moment only."""
    memory = Memory()
    back_h = WEEKS_H
    while back_h > 0.0:
        with store.snapshot() as tx:
            load_stretch(tx, yard, memory, now - timedelta(hours=back_h))
        back_h -= PAST_H
    with store.snapshot() as tx:
        load_forecasts(tx, memory, None, now)
    return memory


def load_forecasts(
    tx: Transaction, memory: Memory, since: datetime | None, until: datetime
) -> None:
    """Take into the memory the public forecasts that came after one time and up to another."""
    # An hour again: an issue is stored a little after the time from which it counts as known.
    begin = until - timedelta(hours=WEEKS_H) if since is None else since - timedelta(hours=1)
    memory.outlook.add_issues(tx.forecasts.known_between(begin, until))


def load_stretch(tx: Transaction, yard: Yard, memory: Memory, then: datetime) -> None:
    """Take into the memory the four days that end ``then``."""
    until = to_ms(then) + 1
    traces = read_past_traces(tx, series_needed(yard), until - int(SPAN_H * MS_PER_H), until)
    placed, sensors = by_place(traces, yard), sensors_of_place(yard)
    for air in space_airs(yard.spaces, sensors, placed, then, memory.stuck).values():
        memory.add_air(air)
