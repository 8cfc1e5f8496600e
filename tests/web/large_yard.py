"""A yard of many craft in forty spaces on a hard night: the demo's twelve, over and over."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from fastapi import FastAPI

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock, to_ms
from monitor.craft.record import CraftRecord
from monitor.judgement.inputs import CraftInCare
from monitor.judgement.round import Round
from monitor.store.reading_rows import ReadingRow
from monitor.store.rolling_up import make_due_hours
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.web.app import create_app
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Mount, Sensor, Space, SpaceKind, Yard
from tests.craft.scene import ZONE, library, twelve
from tests.real.stores import scene_url
from tests.reports.season import winter
from tests.web.yard_book import book_of

# The evening before the first hard night, all of the demo's work done by then.
EVENING = datetime(2026, 11, 14, 16, 0, tzinfo=ZONE)
_HEARD = timedelta(days=4)
_EVERY_S = 1800.0
_CHANNELS = (Channel.TEMPERATURE, Channel.HUMIDITY)
_KINDS = (SpaceKind.COLD, SpaceKind.OPEN, SpaceKind.COLD, SpaceKind.WRAPPED, SpaceKind.HEATED)
_WHERE = ("Shed", "Rack", "Barn", "Row", "Stove Hall")


@dataclass(frozen=True, slots=True, kw_only=True)
class LargeYard:
    """A yard with its store, judged and told once."""

    yard: Yard
    store: Store
    clock: ReadingsClock
    care: CraftInCare

    def judge_again(self, later: timedelta = timedelta(minutes=1)) -> None:
        """Have one more round."""
        self.clock.advance_to(self.clock.now() + later)
        _judge(self.yard, self.store, self.clock, self.care)

    def make_app(self, renew_s: float = 1.5) -> FastAPI:
        """The yard's web, its own pages among them."""
        book = book_of(self.store, self.yard, self.clock, self.care.read_now)
        return create_app(
            self.store, self.yard, self.clock, self.care.read_now, profiles=library(),
            book=book, renew_s=renew_s,
        )  # fmt: skip


def places_of(count: int) -> tuple[Space, ...]:
    """So many spaces of all kinds, with names in which a number tells them apart."""
    return tuple(
        Space(id=f"space-{n}", name=f"{_WHERE[n % 5]} {n // 5 + 1}", kind=_KINDS[n % 5])
        for n in range(count)
    )


@contextmanager
def large_yard(folder: Path, craft: int, spaces: int = 40) -> Iterator[LargeYard]:
    """A yard of so many craft on a frost night, in a store of its own."""
    places = places_of(spaces)
    sensors = tuple(
        Sensor(
            name=f"urn:dev:ops:air-{one.id}",
            space=one.id,
            mount=Mount.AIR,
            interval_s=_EVERY_S,
            labels={each.value: each for each in _CHANNELS},
        )
        for one in places
    )
    yard = winter.yard(spaces=places, sensors=sensors)
    store, clock = Store(scene_url(folder), yard.id), ReadingsClock(EVENING)
    try:
        _hear(store, yard)
        with store.transaction() as tx:
            take_in(tx.layup, _records(craft, places), library(), EVENING)
        care = CraftInCare(store, library(), yard, clock)
        _judge(yard, store, clock, care)
        yield LargeYard(yard=yard, store=store, clock=clock, care=care)
    finally:
        store.close()


def _records(count: int, places: tuple[Space, ...]) -> list[CraftRecord]:
    known = list(twelve().values())
    return [_another(known[n % len(known)], n, places[n * 7 % len(places)]) for n in range(count)]


def _another(like: CraftRecord, number: int, place: Space) -> CraftRecord:
    """One more craft with the record of another; no entry's id stands in two craft."""
    own = f"c{number}"
    stay = replace(like.stays[0], craft=own, space=place.id, berth=str(number // 40 + 1))
    return replace(
        like,
        craft=replace(
            like.craft, id=own, name=f"{like.craft.name} {number // 12 + 1}", owner="wren",
            hull_number="",
        ),
        entries=tuple(replace(each, craft=own) for each in like.entries),
        stays=(stay,),
    )  # fmt: skip


def _hear(store: Store, yard: Yard) -> None:
    """Four days of each sensor: mild nights until tonight, but for a few spaces."""
    begin_ms, end_ms = to_ms(EVENING - _HEARD), to_ms(EVENING)
    at_ms = np.arange(begin_ms, end_ms + 1, int(_EVERY_S * 1000))
    hours = (at_ms - begin_ms) / 3_600_000
    for n, one in enumerate(yard.sensors):
        heated = yard.space(one.space).kind is SpaceKind.HEATED
        mild = 6.5 + 0.05 * n - 0.5 * np.maximum(hours - 84.0, 0.0)
        exposed = 8.0 * (hours > 78.0) * (n % 20 == 6)  # had its frost last night
        mean, swing = (8.0, 0.5) if heated else (mild - exposed, 5.0)
        air = mean + swing * np.cos(2 * np.pi * (hours + 1.0) / 24.0)  # warmest at 15:00
        keys = [(one.name, each) for each in _CHANNELS]
        damp = np.full(at_ms.size, 7000.0)
        with store.transaction() as tx:
            series = tx.series.series_ids(keys)
            for key, values in zip(keys, (air * 100, damp), strict=True):
                tx.reading_writer.append_rows([
                    ReadingRow(series[key], int(at), int(value), None, Flag.PASS)
                    for at, value in zip(at_ms, values, strict=True)
                ])  # fmt: skip
    make_due_hours(store, EVENING)


def _judge(yard: Yard, store: Store, clock: ReadingsClock, care: CraftInCare) -> None:
    here = care.read_now()
    Round(store, yard, clock).run(here)
    AlarmRound(store, yard, clock).run({one.id: one for one in here})
