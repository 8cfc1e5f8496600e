"""Inputs of one moment of a yard: craft, air, night and probes; nothing that was judged before."""

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from monitor.clock import Clock
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord, departed_craft, stored_craft
from monitor.craft.stored import BatteryPlace, DepartedCraft, StoredCraft
from monitor.judgement.air.exchanged_sensors import (
    ExchangeEvidence,
    find_exchanged,
    judged_by_worse,
)
from monitor.judgement.air.grid import SpaceAir, Traces, on_grid, space_airs
from monitor.judgement.air.own_nights import Tonight
from monitor.judgement.air.past_weeks import Memory
from monitor.judgement.air.placed_traces import by_place
from monitor.judgement.air.public_forecast import ComingAir
from monitor.judgement.air.tonight import forecast_nights, outdoor_air
from monitor.judgement.damp.hull import OPEN_HULL, Hull
from monitor.judgement.damp.venting_and_mould import mould_indices
from monitor.judgement.frost.judge import Coolings, FrostInputs, FrostView, cool_circuits
from monitor.judgement.frost.past_ice import Part
from monitor.store.store import Store
from monitor.store.transaction import Transaction
from monitor.yard.readers import wording_for_store
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Yard, sensors_of_place, shelters

_ADD_UP_EVERY = timedelta(minutes=10)  # moves and ageing take effect with time alone


@dataclass(frozen=True, slots=True, kw_only=True)
class YardInputs:
    """What stands where at one moment, the air around it, and the coming night.

    Gathered in order of time, because the memory grows with each. None depends on what was judged
    before it, so the cooling of many moments can be computed at once.
    """

    yard: Yard
    traces: Traces  # of each sensor those of the place where it hangs
    sent: Traces  # of each sensor all, wherever it hung
    now: datetime
    craft_by_space: dict[str, list[StoredCraft]]
    batteries: dict[str, list[StoredCraft]]  # by the space that their battery is in
    airs: dict[str, SpaceAir]  # to judge by: of spaces whose sensors may be exchanged, the worse
    exchanged: list[ExchangeEvidence]
    nights: dict[str, Tonight | None]
    probes_c: dict[str, dict[Part, float]]  # by space
    mould: dict[tuple[str, Hull], float]
    coming: ComingAir | None  # outdoors, by a public forecast
    frost: FrostInputs

    @classmethod
    def gather(
        cls,
        yard: Yard,
        craft: Sequence[StoredCraft],
        traces: Traces,
        now: datetime,
        memory: Memory,
    ) -> "YardInputs":
        """Gather the inputs from readings up to ``now``; the memory takes in what they add."""
        craft_by_space = defaultdict(list)
        batteries = defaultdict(list)
        for each in craft:
            craft_by_space[each.space].append(each)
            if each.battery is not None and each.battery.place is not BatteryPlace.AWAY:
                batteries[each.battery.space or each.space].append(each)
        sent, traces = traces, by_place(traces, yard)
        read = space_airs(yard.spaces, sensors_of_place(yard), traces, now, memory.stuck)
        memory.stuck = frozenset(one for air in read.values() for one in air.stuck)
        exchanged = find_exchanged(read, memory.exchanged)
        memory.exchanged = frozenset(each.pair for each in exchanged)
        airs = judged_by_worse(read, exchanged)
        for air in airs.values():
            memory.add_air(air)
        nights = forecast_nights(airs, yard, memory)
        probes = {
            space_id: _probe_temperatures(yard, air, traces) for space_id, air in airs.items()
        }
        views = {
            space_id: FrostView(
                air=air, night=nights[space_id], yard=yard, probes_c=probes[space_id]
            )
            for space_id, air in airs.items()
        }
        return cls(
            yard=yard,
            traces=traces,
            sent=sent,
            now=now,
            craft_by_space=craft_by_space,
            batteries=batteries,
            airs=airs,
            exchanged=exchanged,
            nights=nights,
            probes_c=probes,
            mould=_mould_by_hull(memory, now, craft),
            coming=memory.outlook.coming_air(now, outdoor_air(airs)),
            frost=FrostInputs.gather(views, craft_by_space),
        )


@dataclass(frozen=True, slots=True)
class PreparedInputs:
    """Inputs of one moment, with the cooling of every circuit in it."""

    inputs: YardInputs
    coolings: Coolings


def prepare_inputs(moments: Sequence[YardInputs]) -> list[PreparedInputs]:
    """Compute the cooling of the circuits of several moments, all at once."""
    found = cool_circuits([each.frost for each in moments])
    return [PreparedInputs(*each) for each in zip(moments, found, strict=True)]


def _probe_temperatures(yard: Yard, air: SpaceAir, traces: Traces) -> dict[Part, float]:
    """Readings now of probes on craft in this space, by craft and circuit or surface."""
    found = {}
    for sensor in yard.sensors:
        if sensor.space != air.space.id or sensor.mount is not Mount.SURFACE:
            continue
        if sensor.craft is None or sensor.circuit is None:
            continue
        reads = on_grid(traces.get((sensor.name, Channel.TEMPERATURE)), air.hours, air.now)
        if np.isfinite(reads[-1]):
            found[sensor.craft, sensor.circuit] = float(reads[-1])
    return found


def _mould_by_hull(
    memory: Memory, now: datetime, craft: Sequence[StoredCraft]
) -> dict[tuple[str, Hull], float]:
    """Mould index of each space and each closed hull in it; computed once a day."""
    hulls = frozenset(
        (each.space, hull)
        for each in craft
        if each.surfaces and (hull := Hull.of_keeping(each.keeping)) is not OPEN_HULL
    )
    known_days = sum(past.at_ms.size for past in memory.spaces.values()) // (
        24 * len(memory.spaces)
    )
    # A yard that starts learns its past round by round.
    key = ("mould", now.date(), known_days, hulls)
    known = memory.worked_out.get(key)
    if not isinstance(known, dict):
        known = mould_indices(memory.spaces, hulls)
        memory.worked_out[key] = known
    return known


class CraftInCare:
    """Adds every craft's record up, and again when the record or the time has moved on."""

    def __init__(
        self, store: Store, profiles: Mapping[str, Profile], yard: Yard, clock: Clock
    ) -> None:
        self._store, self._profiles, self._yard, self._clock = store, profiles, yard, clock
        self._revision: Hashable = None
        self._craft: tuple[StoredCraft, ...] = ()
        self._as_of: datetime | None = None

    def take_yard(self, yard: Yard) -> None:
        """Add all up anew by the yard as people have changed it."""
        self._yard, self._as_of = yard, None

    def read_now(self) -> tuple[StoredCraft, ...]:
        """Every craft in the yard's care now, by id; one that cannot be read says so itself."""
        now = self._clock.now()
        with self._store.snapshot() as tx:
            revision = tx.layup.revision_mark()
            fresh = revision == self._revision
            # A clock that is put back takes back what its wrong hour had brought.
            since = None if self._as_of is None else now - self._as_of
            if fresh and since is not None and timedelta(0) <= since < _ADD_UP_EVERY:
                return self._craft
            records = tx.layup.all_records(self._profiles)
        self._craft = craft_in_care(records, self._yard, now)
        self._revision, self._as_of = revision, now
        return self._craft

    def read_departed(self, tx: Transaction, craft: Collection[str]) -> Mapping[str, DepartedCraft]:
        """Those of some craft that are in the yard's care no more, as they stood when they left."""
        now, known = self._clock.now(), shelters(self._yard)
        records = tx.layup.records_of(set(craft), self._profiles)
        return {
            key: found
            for key, record in records.items()
            if (found := departed_craft(record, known, now)) is not None
        }


def craft_in_care(
    records: Iterable[CraftRecord], yard: Yard, at: datetime
) -> tuple[StoredCraft, ...]:
    """The craft of these records that were in the yard's care at a time, in the records' order."""
    known, words = shelters(yard), wording_for_store(yard, at)
    found = (stored_craft(record, known, at, words) for record in records)
    return tuple(one for one in found if one is not None)
