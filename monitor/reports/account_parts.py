"""What an account says of one part of a craft: written once for all parts of which it is the same.

The craft of one type that stand in one air share their judgements, objects and all, but for what
they are of (`Assessment.of_others`): of 14,000 judgements some thousand are distinct. Their JSON is
the same too, as long as the record says the same of the part and no sentence names the craft.
"""

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field, fields
from datetime import date, datetime, timedelta
from operator import itemgetter

from pydantic import TypeAdapter

from monitor.craft.stored import StoredCraft
from monitor.phrases.names import Names
from monitor.phrases.step_in_words import CircuitNames
from monitor.reports.account import (
    BatteryAccount,
    CircuitAccount,
    SurfaceAccount,
    account_of_battery,
    account_of_circuit,
    account_of_surface,
)
from monitor.reports.picture import CraftPicture
from monitor.wording import NEAR, THIS_WEEK, Wording
from monitor.yard.assessment import Assessment

_CIRCUIT_JSON, _SURFACE_JSON, _BATTERY_JSON = (
    TypeAdapter(one) for one in (CircuitAccount, SurfaceAccount, BatteryAccount)
)
_TEXT_JSON = TypeAdapter(str)
_SHARED = itemgetter(
    *(each.name for each in fields(Assessment) if each.name not in {"subject", "turn"})
)
# Before and after a time, when it is said in other words: what `Wording.day_and_hour` asks.
_TURNS = (-THIS_WEEK, -NEAR, timedelta(0), THIS_WEEK)
_MOST_KINDS = 50_000


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
class NotedNames(Names):
    """Notes whether a sentence named the craft: then it is of no other."""

    named: set[str] = field(default_factory=set, compare=False)

    def craft_name(self, craft_id: str) -> str:
        """What people call a craft, and note that it was asked."""
        self.named.add(craft_id)
        return Names.craft_name(self, craft_id)


@dataclass(frozen=True, slots=True)
class _SharedJson:
    """What follows a part's id and name in its JSON, the times that it says; whose ids it has."""

    rest: bytes
    said: frozenset[datetime]
    of: Assessment


@dataclass(frozen=True, slots=True)
class _PartKind:
    """How the JSON of a part begins, and a number that it shares with those that are told alike."""

    begin: bytes
    number: int


@dataclass(frozen=True, slots=True)
class _CraftKind:
    """How the JSON of a craft begins, and the kinds of its parts by their ids."""

    craft: StoredCraft
    begin: bytes
    circuits: Mapping[str, _PartKind]
    surfaces: Mapping[str, _PartKind]


class PartKinds:
    """Tells which parts of craft may be told alike: what sentences may say of them is the same."""

    def __init__(self) -> None:
        self._of_craft: dict[str, _CraftKind] = {}
        self._numbers: dict[Hashable, int] = {}

    def kind_of_craft(self, craft: StoredCraft) -> _CraftKind:
        """The kinds of a craft's parts: others where anything that is said of one is another."""
        known = self._of_craft.get(craft.id)
        if known is None or known.craft is not craft:
            if len(self._numbers) > _MOST_KINDS:
                self._of_craft, self._numbers = {}, {}
            known = self._of_craft[craft.id] = self._number_parts(craft)
        return known

    def keep_only(self, ids: Mapping[str, StoredCraft]) -> None:
        """Forget craft that have left the yard."""
        for gone in self._of_craft.keys() - ids.keys():
            del self._of_craft[gone]

    def _number_parts(self, craft: StoredCraft) -> _CraftKind:
        called = repr(CircuitNames.of_craft(craft))
        texts = map(_TEXT_JSON.dump_json, (craft.id, craft.name, craft.space, craft.berth))

        def kind_of(part: str, name: str, what: bytes) -> _PartKind:
            record = craft.protection.get(part)
            said = None if record is None else (record.state, record.why)
            # Of a circuit that has a profile, acts know more than what it is called.
            known = (what, name, None if craft.plan_start is None else part)
            kind = (craft.space, known, said, called)
            number = self._numbers.setdefault(kind, len(self._numbers))
            id_json, name_json = map(_TEXT_JSON.dump_json, (part, name))
            return _PartKind(b'{"%b":%b,"name":%b,' % (what, id_json, name_json), number)

        return _CraftKind(
            craft,
            b'{"craft":%b,"name":%b,"space":%b,"berth":%b,"circuits":[' % tuple(texts),
            {one.id: kind_of(one.id, one.name, b"circuit") for one in craft.circuits},
            {one.id: kind_of(one.id, one.name, b"surface") for one in craft.surfaces},
        )


class CraftWriter:
    """Writes the craft of one account."""

    def __init__(self, kinds: PartKinds, names: NotedNames, words: LastingWording) -> None:
        self._kinds, self._names, self._words = kinds, names, words
        self._shared: dict[Hashable, _SharedJson] = {}

    def write_craft(self, picture: CraftPicture) -> bytes:
        """Write what `craft_account_json` writes of its account, to the byte."""
        craft, battery = picture.craft, picture.battery
        kind = self._kinds.kind_of_craft(craft)
        names, words = self._names, self._words

        def tell_circuit(seen: Assessment) -> bytes:
            return _CIRCUIT_JSON.dump_json(account_of_circuit(craft, seen, names, words))

        def tell_surface(seen: Assessment) -> bytes:
            return _SURFACE_JSON.dump_json(account_of_surface(craft, seen, names, words))

        circuits = [self._write_part(one, kind.circuits, tell_circuit) for one in picture.circuits]
        surfaces = [self._write_part(one, kind.surfaces, tell_surface) for one in picture.surfaces]
        told = None if battery is None else account_of_battery(battery, names, words)
        return b'%b%b],"surfaces":[%b],"battery":%b,"unreadable":%b}' % (
            kind.begin,
            b",".join(circuits),
            b",".join(surfaces),
            b"null" if told is None else _BATTERY_JSON.dump_json(told),
            _TEXT_JSON.dump_json(craft.unreadable) if craft.unreadable else b"null",
        )

    def _write_part(
        self,
        seen: Assessment,
        kinds: Mapping[str, _PartKind],
        tell: Callable[[Assessment], bytes],
    ) -> bytes:
        """The JSON of one part's judgement: as of a part like it, or written now."""
        kind = kinds.get(seen.subject.part)
        if kind is None:
            return tell(seen)
        key = (kind.number, seen.subject.space, *map(id, _SHARED(seen.__dict__)))
        said = self._words.said
        known = self._shared.get(key)
        if known is not None:
            said |= known.said
            return kind.begin + known.rest
        before = set(said)
        said.clear()
        self._names.named.clear()
        json = tell(seen)
        if not self._names.named and json.startswith(kind.begin):
            rest = json.removeprefix(kind.begin)
            self._shared[key] = _SharedJson(rest, frozenset(said), seen)
        said |= before
        return json
