"""The library of profiles that a yard uses, and the yard as its lay-up record sees it."""

from pathlib import Path

from monitor.craft.kept import Shelter
from monitor.craft.profile import Profile
from monitor.craft.wording import Wording
from monitor.settings.places import shipped
from monitor.settings.profiles import load_profiles
from monitor.yard.space import SpaceKind, Yard

_WARM = frozenset({SpaceKind.HEATED, SpaceKind.BENCH})


def profile_library(yard_file: Path) -> dict[str, Profile]:
    """Shipped profiles, then those in ``profiles/`` beside the yard's file.

    Raises
    ------
    ConfigurationError
        With every fault of every profile.
    """
    ours, theirs = shipped() / "profiles", yard_file.resolve().parent / "profiles"
    return load_profiles([ours] if theirs == ours.resolve() else [ours, theirs])


def shelters(yard: Yard) -> dict[str, Shelter]:
    """A yard's spaces as the record sees them: name, and whether they are kept warm."""
    return {one.id: Shelter(name=one.name, heated=one.kind in _WARM) for one in yard.spaces}


def wording(yard: Yard) -> Wording:
    """A yard's zone and units for sentences."""
    return Wording(
        zone=yard.zone, temperature_unit=yard.temperature_unit, volume_unit=yard.volume_unit
    )
