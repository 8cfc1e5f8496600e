"""Kettlemoss Yard, fictional, with the shipped profiles; short ways to write work down."""

from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from monitor.craft.account import protections
from monitor.craft.canonical import derived_id, entry_json
from monitor.craft.circuit_events import Iced
from monitor.craft.craft_stays import Craft, Shelter, Stay
from monitor.craft.layup import Act, Evidence, LayupEntry, Liquid, Product, ReadyStep
from monitor.craft.links import Link, LinkKind, chain_link
from monitor.craft.mixture import GLYCOLS
from monitor.craft.profile import Profile
from monitor.craft.protection import Protection
from monitor.craft.record import CraftRecord
from monitor.settings.craft_file import load_craft
from monitor.settings.profiles import load_profiles
from monitor.units import FLUID_OUNCE_L
from monitor.yard.space import Person, Role, Space, SpaceKind, Yard

ROOT = Path(__file__).parents[2]
PROFILES = ROOT / "config" / "profiles"
CRAFT_FILE = ROOT / "config" / "demo" / "craft.toml"
ZONE = ZoneInfo("America/Chicago")
EVE = datetime(2026, 11, 14, 16, 0, tzinfo=ZONE)  # of the first hard night
ARRIVED = datetime(2026, 10, 20, 9, 0, tzinfo=ZONE)
NOON = datetime(2026, 11, 1, 12, 0, tzinfo=ZONE)
FLOZ = FLUID_OUNCE_L

SHELTERS = {
    "stove-barn": Shelter(name="Stove Barn", heated=True),
    "bench": Shelter(name="Bench", heated=True),
    "long-shed": Shelter(name="Long Shed", heated=False),
    "north-row": Shelter(name="North Row", heated=False),
    "lee-rack": Shelter(name="Lee Rack", heated=False),
}
PINK = Product(name="pink, 30 %", liquid=Liquid.PROPYLENE, strength=0.30)
STRONG = Product(name="pink, 50 %", liquid=Liquid.PROPYLENE, strength=0.50)
TWO_STROKE = ("cylinder-passages", "exhaust-jacket", "water-box", "hoses")


@cache
def library() -> dict[str, Profile]:
    return load_profiles([PROFILES])


def yard() -> Yard:
    kinds = {"stove-barn": SpaceKind.HEATED, "bench": SpaceKind.BENCH, "lee-rack": SpaceKind.OPEN}
    owners = [f"owner-k{n:02d}" for n in range(1, 13)]
    return Yard(
        id="kettlemoss",
        name="Kettlemoss Yard",
        zone=ZONE,
        latitude=45.0,
        longitude=-92.0,
        temperature_unit="C",
        volume_unit="L",
        spaces=tuple(
            Space(id=key, name=one.name, kind=kinds.get(key, SpaceKind.COLD))
            for key, one in SHELTERS.items()
        ),
        sensors=(),
        people=tuple(
            Person(id=key, name=key, mail=f"{key}@yard.example", roles=frozenset({Role.OWNER}))
            for key in owners
        ),
    )


@cache
def twelve() -> dict[str, CraftRecord]:
    return {one.craft.id: one for one in load_craft(CRAFT_FILE, yard(), library())}


def work(
    act: Act | str, hours: float = 0.0, *circuits: str, at: datetime = NOON, **said: Any
) -> LayupEntry:
    """One entry, ``hours`` after noon of 1 November unless told otherwise.

    A reading is taken on the scale of the product, of propylene where none is named; ``scale=None``
    leaves it out.
    """
    if said.get("ice_point_c") is not None:
        product = said.get("product")
        named = product.liquid if product and product.liquid in GLYCOLS else Liquid.PROPYLENE
        said.setdefault("scale", named)
    if act == Act.READIED:  # where no step is said, the one that takes most out
        said.setdefault("readied", ReadyStep.ANTIFREEZE_OUT)
    known = {
        "product",
        "quantity_l",
        "residual_l",
        "again",
        "flow_order",
        "posture",
        "cover",
        "space",
        "rested_v",
        "findings",
        "settles",
        "readied",
        "note",
        "replaces",
        "by",
        "craft",
        "id",
    }
    evidence = Evidence(**{key: value for key, value in said.items() if key not in known})
    rest = {key: value for key, value in said.items() if key in known}
    entry = LayupEntry(
        **{
            "id": "new",
            "craft": "k1",
            "by": "Ines Aldaz",
            "at": (at + timedelta(hours=hours)).astimezone(UTC),
            "act": Act(act),
            "circuits": circuits,
            "evidence": evidence,
            **rest,
        }
    )
    if "id" in said:
        return entry
    return LayupEntry(
        **{name: getattr(entry, name) for name in entry.__dataclass_fields__ if name != "id"},
        id=derived_id(entry),
    )


def record(
    *entries: LayupEntry,
    profile: str = "pwc-two-stroke",
    places: tuple[str, ...] = ("long-shed",),
    iced: tuple[Iced, ...] = (),
    **craft: Any,
) -> CraftRecord:
    """A craft with this work; it stands in each place from a day after the one before."""
    return CraftRecord(
        craft=Craft(
            **{"id": "k1", "name": "Teal", "profile": profile, "arrived_at": ARRIVED, **craft}
        ),
        profile=library()[profile],
        entries=entries,
        stays=tuple(
            Stay(craft="k1", since=ARRIVED + timedelta(days=14 * n), space=space)
            for n, space in enumerate(places)
        ),
        iced=iced,
    )


def held(one: CraftRecord, at: datetime = EVE) -> dict[str, Protection]:
    return protections(one.profile, one.entries, one.stays, SHELTERS, at, one.iced)


def entry_link(entry: LayupEntry, number: int, written_at: datetime, before: str) -> Link:
    """The link that holds a piece of work."""
    return chain_link(LinkKind.ENTRY, entry_json(entry), number, written_at, before)
