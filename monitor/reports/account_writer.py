"""Writes a yard's account again and again, and anew only what is not as it was.

The account says a sentence or two of each judgement, thousands of them, and most are the same as a
minute ago. What is said of a craft follows from its record, its judgements and the yard's file,
objects that are never changed in place: as long as they are the same objects, and no time has come
so near that it is said in other words, its JSON is the same too.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from operator import is_
from threading import Lock
from typing import TypeVar

from pydantic import TypeAdapter

from monitor.reports.account import (
    SensorAccount,
    SpaceAccount,
    account_of_sensor,
    account_of_space,
    utc_of,
)
from monitor.reports.account_parts import CraftWriter, LastingWording, NotedNames, PartKinds
from monitor.reports.picture import CraftPicture, JudgedPicture, SpacePicture
from monitor.wording import SI
from monitor.yard.assessment import Assessment

_SPACE_JSON, _SENSOR_JSON = TypeAdapter(SpaceAccount), TypeAdapter(SensorAccount)
_TIME_JSON, _TEXT_JSON = TypeAdapter(datetime), TypeAdapter(str)
_PartKey = tuple[str, str]  # kind of part, id
_Picture = TypeVar("_Picture")


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
        self._kinds = PartKinds()
        self._parts: dict[_PartKey, _WrittenPart] = {}
        self._shared: tuple[object, ...] = ()  # what every part may name
        self._day: date | None = None

    def write_account(self, picture: JudgedPicture) -> bytes:
        """Write what `account_json` writes of the picture's account, to the byte."""
        with self._lock:
            names = NotedNames(picture.yard, {one.craft.id: one.craft for one in picture.craft})
            words = LastingWording(zone=picture.yard.zone, now=picture.at, units=SI)
            self._forget_what_may_differ(names, words)
            self._kinds.keep_only(names.craft)
            of_craft = CraftWriter(self._kinds, names, words)

            def write_space(one: SpacePicture) -> bytes:
                return _SPACE_JSON.dump_json(account_of_space(one, names, words))

            def write_sensor(one: Assessment) -> bytes:
                return _SENSOR_JSON.dump_json(account_of_sensor(one, names, words))

            turn = _Turn(self._parts, words)
            spaces = [
                turn.write("space", one.space.id, (one.space, one.air), write_space, one)
                for one in picture.spaces
            ]
            craft = [
                turn.write("craft", one.craft.id, _under_craft(one), of_craft.write_craft, one)
                for one in picture.craft
            ]
            sensors = [
                turn.write("sensor", one.subject.part, (one,), write_sensor, one)
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

    def _forget_what_may_differ(self, names: NotedNames, words: LastingWording) -> None:
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

    def __init__(self, earlier: dict[_PartKey, _WrittenPart], words: LastingWording) -> None:
        self._earlier, self._words = earlier, words
        self.written: dict[_PartKey, _WrittenPart] = {}

    def write(
        self,
        kind: str,
        id_: str,
        rests_on: tuple[object, ...],
        write_anew: Callable[[_Picture], bytes],
        part: _Picture,
    ) -> bytes:
        """The JSON of one part: as it was, or written now."""
        kept = self._earlier.get((kind, id_))
        if kept is None or not kept.holds(rests_on, self._words.now):
            json = write_anew(part)
            kept = _WrittenPart(rests_on, self._words.now, self._words.lasts_until(), json)
        self.written[kind, id_] = kept
        return kept.json


def _under_craft(picture: CraftPicture) -> tuple[object, ...]:
    return (picture.craft, *picture.circuits, *picture.surfaces, picture.battery)
