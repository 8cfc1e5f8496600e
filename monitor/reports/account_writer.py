"""Writes a yard's account again and again, and anew only what is not as it was.

The account says a sentence or two of each judgement, thousands of them, and most are the same as a
minute ago. What is said of a craft follows from its record, its judgements and the yard's file,
objects that are never changed in place: as long as they are the same objects, and no time has come
so near that it is said in other words, its JSON is the same too.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from operator import is_
from threading import Lock
from typing import Any

from pydantic import TypeAdapter

from monitor.phrases.names import Names
from monitor.reports.account import (
    CraftAccount,
    SensorAccount,
    SpaceAccount,
    account_of_craft,
    account_of_sensor,
    account_of_space,
    utc_of,
)
from monitor.reports.picture import CraftPicture, JudgedPicture
from monitor.wording import NEAR, SI, THIS_WEEK, Wording

_JSON_OF = {one: TypeAdapter(one) for one in (SpaceAccount, CraftAccount, SensorAccount)}
_TIME_JSON, _TEXT_JSON = TypeAdapter(datetime), TypeAdapter(str)
_PartKey = tuple[str, str]  # kind of part, id
# Before and after a time, when it is said in other words: what `Wording.day_and_hour` asks.
_TURNS = (-THIS_WEEK, -NEAR, timedelta(0), THIS_WEEK)


@dataclass(frozen=True, slots=True, kw_only=True)
class LastingWording(Wording):
    """Notes every time that is said or compared with the moment at which it is said."""

    said: set[datetime] = field(default_factory=set, compare=False)

    def day_and_hour(self, at: datetime) -> tuple[str, str]:
        """Write a time's day and hour apart, and note it."""
        self.said.add(at)
        return Wording.day_and_hour(self, at)

    def is_ahead(self, at: datetime) -> bool:
        """Whether a time is still to come, and note it."""
        self.said.add(at)
        return Wording.is_ahead(self, at)

    def day_of_now(self) -> date:
        """The yard's day: another one changes what is said of any time."""
        return self.now.astimezone(self.zone).date()

    def lasts_until(self) -> datetime | None:
        """Before when, of this day, all words made since the last call stay; None: all of it.

        Not later than this moment itself where one of them changes in it.
        """
        turns = (at + turn for at in self.said for turn in _TURNS)
        found = min((turn for turn in turns if turn >= self.now), default=None)
        self.said.clear()
        return found


@dataclass(frozen=True, slots=True)
class _WrittenPart:
    """The JSON of one space, craft or sensor, with what it follows from."""

    rests_on: tuple[object, ...]
    made_at: datetime
    lasts_until: datetime | None
    json: bytes

    def holds(self, rests_on: tuple[object, ...], now: datetime) -> bool:
        """Whether it would be written the same at a time of the same day."""
        is_in_time = now == self.made_at or (
            self.made_at < now and (self.lasts_until is None or now < self.lasts_until)
        )
        return (
            is_in_time
            and len(rests_on) == len(self.rests_on)
            and all(map(is_, rests_on, self.rests_on))
        )


class AccountWriter:
    """Keeps the parts of the last account that it wrote, and no others."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._parts: dict[_PartKey, _WrittenPart] = {}
        self._shared: tuple[object, ...] = ()  # what every part may name
        self._day: date | None = None

    def write_account(self, picture: JudgedPicture) -> bytes:
        """Write what `account_json` writes of the picture's account, to the byte."""
        with self._lock:
            names = Names.of(picture.yard, (one.craft for one in picture.craft))
            words = LastingWording(zone=picture.yard.zone, now=picture.at, units=SI)
            self._forget_what_may_differ(names, words)
            turn = _Turn(self._parts, names, words)
            spaces = [
                turn.write("space", one.space.id, (one.space, one.air), account_of_space, one)
                for one in picture.spaces
            ]
            craft = [
                turn.write("craft", one.craft.id, _under_craft(one), account_of_craft, one)
                for one in picture.craft
            ]
            sensors = [
                turn.write("sensor", one.subject.part, (one,), account_of_sensor, one)
                for one in picture.sensors
            ]
            self._parts = turn.written
        return b'{"at":%b,"yard":%b,"spaces":[%b],"craft":[%b],"sensors":[%b]}' % (
            _TIME_JSON.dump_json(utc_of(picture.at)),
            _TEXT_JSON.dump_json(picture.yard.id),
            b",".join(spaces),
            b",".join(craft),
            b",".join(sensors),
        )

    def _forget_what_may_differ(self, names: Names, words: LastingWording) -> None:
        """Keep nothing for another day or another yard's file, and of other craft no names."""
        if self._day != words.day_of_now() or not self._shared or self._shared[0] is not names.yard:
            self._parts = {}
        shared = (names.yard, *(names.craft[one] for one in sorted(names.craft)))
        if len(shared) != len(self._shared) or not all(map(is_, shared, self._shared)):
            # What is said of a space or a sensor may name a craft.
            self._parts = {key: one for key, one in self._parts.items() if key[0] == "craft"}
        self._shared, self._day = shared, words.day_of_now()


class _Turn:
    """One account in the making."""

    def __init__(
        self, earlier: dict[_PartKey, _WrittenPart], names: Names, words: LastingWording
    ) -> None:
        self._earlier, self._names, self._words = earlier, names, words
        self.written: dict[_PartKey, _WrittenPart] = {}

    def write(
        self,
        kind: str,
        id_: str,
        rests_on: tuple[object, ...],
        account: Callable[[Any, Names, LastingWording], Any],
        part: object,
    ) -> bytes:
        """The JSON of one part: as it was, or written now."""
        kept = self._earlier.get((kind, id_))
        if kept is None or not kept.holds(rests_on, self._words.now):
            told = account(part, self._names, self._words)
            json = _JSON_OF[type(told)].dump_json(told)
            kept = _WrittenPart(rests_on, self._words.now, self._words.lasts_until(), json)
        self.written[kind, id_] = kept
        return kept.json


def _under_craft(picture: CraftPicture) -> tuple[object, ...]:
    return (picture.craft, *picture.circuits, *picture.surfaces, picture.battery)
