"""What is known of a space's own air: how it is, how low it will go and by what, its damp."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from math import inf, nan
from typing import Literal


class LowMethod(StrEnum):
    """How the coming low of a space was worked out."""

    USUAL_FALL = "usual fall"  # no whole night is known there yet
    PAST_NIGHTS = "past nights"  # of the space itself
    OUTDOOR_LAG = "outdoor lag"  # behind the outdoor air, and its own past nights
    HEAT_LOST = "heat lost"  # behind the outdoor air alone
    HEAT_LOST_UNSEEN = "heat lost unseen"  # no outdoor air is known: it falls on as it does


@dataclass(frozen=True, slots=True, kw_only=True)
class LowBasis:
    """What a coming low rests on."""

    method: LowMethod
    nights: int = 0  # known of the space
    error_k: float = nan  # mean absolute, of such forecasts over past nights
    public_source: str = ""
    public_share: float = 0.0  # weight of the public forecast in it
    lag_h: float = nan  # behind the outdoor air
    held_by_heat: bool = False  # raised to the lowest temperature that the heat has allowed


class VentAdvice(StrEnum):
    """What opening a space up would do to the metal and the air in it."""

    NONE = "none"
    CONDENSES = "condenses"  # the air outside would, on the coldest metal, now
    WILL_CONDENSE = "will condense"  # by a public forecast, within hours
    WETTER = "wetter"  # the air outside holds more water
    WET_METAL = "wet metal"  # what lies on metal there, or is about to, asks for shut doors
    DRIES = "dries"


@dataclass(frozen=True, slots=True, kw_only=True)
class Venting:
    """What opening up would bring now."""

    advice: VentAdvice
    water_g_kg: float  # outside minus inside water content; above 0: opening wets
    drying: float  # 1 dries, -1 wets, 0 within the sensors' error
    condenses_at: datetime | None = None
    source: str = ""  # of the public forecast that says so
    shut_until: datetime | None = None  # for wet metal; None: until it has passed the dew point


@dataclass(frozen=True, slots=True, kw_only=True)
class AirFacts:
    """A space's air, its forecast and how that did, what is known of its building and its damp."""

    form: Literal["air"] = "air"
    coldest_sensor: str
    air_c: float
    warmest_air_c: float
    rh_pct: float
    dew_point_c: float
    condensation_point_c: float
    coldest_24h_c: float
    degree_hours_below_zero_24h: float
    wet_hours_24h: float
    fall_k_h: float
    open_to_outside: bool  # it loses heat faster than shut walls let it
    sensors_apart_k: float
    sensors_differ: bool  # by more than its air does
    low: LowBasis
    low_expected_c: float
    low_band_high_c: float  # the middle four fifths of the courses end between these
    nights_checked: int
    persistence_error_k: float
    public_error_k: float
    reaches_5c_in_h: float
    zero_without_heat_h: float
    reaches_0c_in_h: float = inf
    low_band_low_c: float = nan
    chance_below_zero: float = nan  # that the air passes 0 °C before the noon after the night
    building_lag_h: float = nan
    building_lift_k: float = nan
    mould_index: float = nan
    venting: Venting | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnreadFacts:
    """Nothing fresh was read of what a judgement needs."""

    form: Literal["unread"] = "unread"
    missing: Literal["air", "humidity"] = "air"
    stays: str = ""  # the one thermometer that is heard, and does not follow its air
    bilge_wet: bool = False  # of a craft whose damp is not known: a person saw water in it
