"""The yard itself: spaces with their own air, berths, sensors, people."""

from dataclasses import dataclass, field
from datetime import datetime, time
from enum import StrEnum
from math import inf
from zoneinfo import ZoneInfo

from monitor.craft.craft_stays import Shelter
from monitor.craft.plan.shelf import ShelfProduct
from monitor.units import TemperatureUnit, VolumeUnit
from monitor.yard.calibration import Calibration
from monitor.yard.duty import Duty, OwnerTelling, Span
from monitor.yard.losses import Losses
from monitor.yard.message import is_text_channel
from monitor.yard.reading import Channel


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Bounds of the QARTOD tests for one channel, in the channel's unit; None: the usual one.

    Bounds belong to the good side. Tests: gross range (sensor and operator), rate of change,
    spike, flat line (US IOOS, manuals for real-time quality control).
    """

    sensor_low: float | None = None  # below: fail
    sensor_high: float | None = None
    operator_low: float | None = None  # below: suspect
    operator_high: float | None = None
    rise_per_min: float | None = None  # faster: suspect
    fall_per_min: float | None = None
    spike_suspect: float | None = None  # stands out by more than this from both neighbours
    spike_fail: float | None = None
    flat_h: float | None = None  # the very same value for longer: suspect


USUAL_DESIGN_LOW_C = -20.0  # of a yard that has said none: an estimate for a northern winter


class SpaceKind(StrEnum):
    """How a space's air follows the weather."""

    HEATED = "heated"  # a shop: safe only while the heat stays on
    COLD = "cold"  # a building without heat
    WRAPPED = "wrapped"  # a row under shrink wrap
    OPEN = "open"  # a rack or row under the sky
    BENCH = "bench"  # batteries on maintainers


WARM = frozenset({SpaceKind.HEATED, SpaceKind.BENCH})  # heat keeps them so
OUTDOORS = frozenset({SpaceKind.OPEN, SpaceKind.WRAPPED})  # no building around their air


@dataclass(frozen=True, slots=True, kw_only=True)
class Space:
    """A part of the yard with its own air."""

    id: str
    name: str
    kind: SpaceKind
    lag_h: float | None = None  # behind the outside air; None until measured or estimated
    thermostat_c: float | None = None  # what a heated space's thermostat is set to
    storage_low_c: float | None = None  # what the yard has promised its air to stay above
    berths: tuple[str, ...] = ()


class Mount(StrEnum):
    """What a sensor touches, and so whose temperature it tells."""

    AIR = "air"  # the space's air
    SURFACE = "surface"  # metal of a craft, or a dummy mass standing for it
    BATTERY = "battery"  # the posts of one craft's battery: a maintainer


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """One device that sends readings.

    ``name`` is its SenML base name without the trailing separator; a record's own name is the
    label of one channel: ``urn:dev:ops:yard-barn-corner`` + ``:`` + ``temperature``.
    """

    name: str
    space: str
    mount: Mount = Mount.AIR
    craft: str | None = None  # for SURFACE and BATTERY: whose
    circuit: str | None = None  # for SURFACE: which circuit it stands for, if one
    labels: dict[str, Channel] = field(default_factory=dict)  # label in the pack -> channel
    interval_s: float | None = None  # expected between readings; None: learned
    height_m: float | None = None
    note: str = ""
    topic: str = ""  # MQTT topic filter on which alone its readings are believed; empty: on any
    calibrations: tuple[Calibration, ...] = ()
    limits: dict[Channel, Limits] = field(default_factory=dict)  # where the usual ones do not fit
    # Its readings count to this place from then on, and until then; None: always, and still.
    since: datetime | None = None
    until: datetime | None = None

    @property
    def span_ms(self) -> tuple[float, float]:
        """From when to when [ms] its readings count to this place; infinite where it has no end."""
        return (
            -inf if self.since is None else self.since.timestamp() * 1000.0,
            inf if self.until is None else self.until.timestamp() * 1000.0,
        )

    @property
    def sent_as(self) -> str:
        """The name under which its readings stand in the store."""
        return self.name if self.until is None else self.name.rpartition("@")[0]


def earlier_name(sensor: str, until: datetime) -> str:
    """Name of a place that a sensor left, under which its readings there are reckoned with."""
    return f"{sensor}@{until.isoformat()}"


class Role(StrEnum):
    """Why a person is told."""

    OPERATOR = "operator"
    MECHANIC = "mechanic"
    OWNER = "owner"


STAFF = frozenset({Role.OPERATOR, Role.MECHANIC})  # who acts; owners are only told


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Someone who is told things."""

    id: str
    name: str
    mail: str
    roles: frozenset[Role]
    temperature_unit: TemperatureUnit | None = None  # None: the yard's own
    volume_unit: VolumeUnit | None = None
    channels: tuple[str, ...] = ("mail",)  # how messages reach them
    all_well_at: time | None = None  # wants a daily word at this hour that the watch goes on
    spaces: frozenset[str] = frozenset()  # only told of these, first; empty: of all
    quiet: Span | None = None  # hours in which only what must never be missed may wake them
    phone: str = ""  # number that takes calls and texts
    language: str = "en"  # of letters to them as an owner; code of BCP 47

    @property
    def reached_by(self) -> tuple[str, ...]:
        """Those of their channels that lead anywhere: mail with an address, texts with a number."""
        needs = {each: self.phone if is_text_channel(each) else True for each in self.channels}
        needs["mail"] = self.mail
        return tuple(each for each in self.channels if needs[each])

    def address_on(self, channel: str) -> str:
        """Their address on a channel; empty where the channel itself says where it leads."""
        if is_text_channel(channel):
            return self.phone
        return self.mail if channel == "mail" else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Yard:
    """One facility."""

    id: str
    name: str
    zone: ZoneInfo
    latitude: float
    longitude: float
    temperature_unit: TemperatureUnit
    volume_unit: VolumeUnit
    spaces: tuple[Space, ...]
    sensors: tuple[Sensor, ...]
    people: tuple[Person, ...]
    earlier_sensors: tuple[Sensor, ...] = ()  # places in which sensors hung and do so no more
    duty: Duty = field(default_factory=Duty)
    helpers: dict[str, str] = field(default_factory=dict)  # names by id; they are told nothing
    design_low_c: float = USUAL_DESIGN_LOW_C  # coldest that a lay-up here is to stand
    losses: Losses = field(default_factory=Losses)
    shelf: tuple[ShelfProduct, ...] = ()  # antifreeze that it has; empty: not written down
    telephone: str = ""  # that owners may call; empty: none that they are told
    reply_to: str = ""  # mail address that answers go to; empty: whence the mails come
    owners: OwnerTelling = field(default_factory=OwnerTelling)
    calibration_days: int = 365  # `monitor/yard/calibration_due.py` says why

    def space(self, space_id: str) -> Space:
        """Find a space by its id; KeyError if the yard has none such."""
        for space in self.spaces:
            if space.id == space_id:
                return space
        raise KeyError(space_id)

    def person(self, person_id: str) -> Person:
        """Find a person by id; KeyError if the yard has none such."""
        for person in self.people:
            if person.id == person_id:
                return person
        raise KeyError(person_id)


def sensors_of_place(yard: Yard) -> tuple[Sensor, ...]:
    """Every sensor where it hangs, and every place that one has left."""
    return (*yard.sensors, *yard.earlier_sensors)


def shelters(yard: Yard) -> dict[str, Shelter]:
    """A yard's spaces as the record sees them: name, and whether they are kept warm."""
    return {one.id: Shelter(name=one.name, heated=one.kind in WARM) for one in yard.spaces}
