"""What is known of damp: metal, its air and the water on it, what a forecast brings, wet days."""

from dataclasses import dataclass
from datetime import datetime
from math import nan
from typing import Literal

MOULD_SEEN = 1.0  # index of first growth under a microscope (Hukka & Viitanen 1999)


@dataclass(frozen=True, slots=True, kw_only=True)
class DewAheadFacts:
    """Dew that a public forecast would bring, and when the doors are to be shut against it."""

    source: str
    begins_at: datetime
    metal_c: float
    point_c: float
    film_g_m2: float  # the most that comes to lie
    first_dew_in_h: float
    clear_in_h: float
    shut_by: datetime | None  # None: now
    shut_until: datetime | None  # None: until the metal has passed the dew point


@dataclass(frozen=True, slots=True, kw_only=True)
class DampFacts:
    """One surface: what it and its air are at, the water on it, and how its craft is kept."""

    form: Literal["damp"] = "damp"
    point_c: float  # dew point of its air, below 0 °C its frost point
    air_c: float
    air_rh_pct: float
    surface_rh_pct: float
    lag_h: float
    probed: bool
    film_g_m2: float
    clear_in_h: float = nan  # until wet metal has passed the point
    clear_at: datetime | None = None
    shut_until: datetime | None = None  # when the last wet metal of its space has passed it
    dry_in_h: float = nan
    chance_sweating: float = nan  # share of the night's courses in which it gets wet, or is
    chance_frosting: float = nan  # of them those in which rime begins it
    wet_early_in_h: float = nan  # one of ten courses in which it gets wet is wet by then
    room_ahead_k: float = nan  # least over the point until the noon: the middle of the courses
    room_band_low_k: float = nan  # four fifths of them have it between these
    room_band_high_k: float = nan
    mould_index: float = nan
    inside: bool = False  # its air is that inside a closed craft, damper than the space's
    bilge_wet: bool = False
    wrapped: bool = False  # in film that lets no vapour out
    closed: bool = False
    filmed: bool = False  # sprayed with corrosion film
    brought_in: bool = False  # within a day: it still has the temperature it came with
    public_source: str = ""  # of the forecast by which it clears; empty: the air stays as it is
    ahead: DewAheadFacts | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WetDayFacts:
    """Hours of wetness of a building's air within one day (ISO 9223)."""

    form: Literal["wet day"] = "wet day"
    wet_h: float
    heard_h: float
    mean_rh_pct: float
