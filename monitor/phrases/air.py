"""What is said of a space's air: its low and what that rests on, and whether to open it up."""

from datetime import datetime
from math import isfinite

from monitor.phrases.names import Names, plain
from monitor.wording import Wording
from monitor.yard.air_facts import AirFacts, LowBasis, LowMethod, UnreadFacts, VentAdvice, Venting
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject, Urgency
from monitor.yard.forecast import ColdAhead
from monitor.yard.space import OUTDOORS, Space


def air_basis(facts: AirFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """How cold a space is and gets, by what, and what opening it up would bring."""
    space, lost = names.space(seen.subject.space), seen.standing is Standing.FALLING
    parts = [
        f"{space} is at {words.temperature(seen.now_c)}, coldest at"
        f" {plain(facts.coldest_sensor.rpartition(':')[2])}; down to"
        f" {words.temperature(seen.low_c)} about {words.clock(seen.low_at)}{_range(facts, words)}:"
        f" {low_basis(facts.low, words)}."
    ]
    if lost:
        parts.append(f"It has been falling by {words.difference(facts.fall_k_h)} an hour.")
    elif facts.venting is not None and facts.venting.advice is not VentAdvice.NONE:
        parts.append(venting_advice(facts.venting, space, words))
    if facts.sensors_differ:
        parts.append(f"Its sensors differ by {words.difference(facts.sensors_apart_k)}.")
    return " ".join(parts)


def _range(facts: AirFacts, words: Wording) -> str:
    """Where the low most likely lies; empty where that is one temperature."""
    cold, warm = (words.temperature(c) for c in (facts.low_band_low_c, facts.low_band_high_c))
    if not isfinite(facts.low_band_low_c) or cold == warm:
        return ""
    return f" (most likely {cold} to {warm})"


def air_act(facts: AirFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """Where to look for lost heat, and by when."""
    look = "heater, its fuel and the doors"
    if facts.open_to_outside:
        look = "doors first, for it cools faster than shut walls do, and the heater"
    if seen.urgency is Urgency.FUTURE:
        return f"Look at the {look} of {names.space(seen.subject.space)} by day, before it freezes."
    before = ""
    if seen.deadline is not None:
        before = f" It reaches {words.temperature(0.0, 0)} about {words.clock(seen.deadline)}."
    return f"Look at the {look} of {names.space(seen.subject.space)} now.{before}"


def low_basis(low: LowBasis, words: Wording) -> str:
    """Half a sentence: what a coming low rests on."""
    public = (
        f", with the forecast of {plain(low.public_source)} counted for {low.public_share:.0%}"
        if low.public_share > 0.0
        else ""
    )
    nights = f"{low.nights} night{'' if low.nights == 1 else 's'}"
    known_so_far = not isfinite(low.error_k)
    said = {
        LowMethod.USUAL_FALL: (
            f"no whole night is known here yet, so a usual fall is assumed{public}"
        ),
        LowMethod.PAST_NIGHTS: (
            f"from the {nights} known so far{public}"
            if known_so_far
            else f"from {low.nights} past nights{public}; such forecasts"
            f" erred by {words.difference(low.error_k)} on the mean"
        ),
        LowMethod.OUTDOOR_LAG: (
            f"by a lag of {low.lag_h:.1f} h behind the outdoor air and by its own past nights"
        ),
        LowMethod.HEAT_LOST: (
            f"its heat is lost, and it follows the outdoor air with a lag of {low.lag_h:.2g} h"
        ),
        LowMethod.HEAT_LOST_UNSEEN: (
            "its heat is lost; no outdoor air is known, so it is taken to fall on as it does now"
        ),
    }[low.method]
    return f"{said}; its heat has held it above that" if low.held_by_heat else said


def keep_shut(space: str, until: datetime | None, words: Wording, if_so: str = "") -> str:
    """Half a sentence, the same for metal and for air: doors shut for wet metal, and until when."""
    about = "" if until is None else f", about {words.clock(until)}{if_so}"
    return f"Keep the doors of {space} shut until the metal has passed the dew point{about}"


def venting_advice(venting: Venting, space: str, words: Wording) -> str:
    """Whether opening a space up dries it or wets it."""
    if venting.advice is VentAdvice.CONDENSES:
        return f"Keep {space} shut: the air outside would condense on the coldest metal in it."
    if venting.advice is VentAdvice.WILL_CONDENSE:
        return (
            f"Keep {space} shut: by the forecast of {plain(venting.source)} the air outside would"
            f" condense on the coldest metal in it from about {words.clock(venting.condenses_at)}"
            " on."
        )
    if venting.advice is VentAdvice.WET_METAL:
        then = ""
        if venting.drying > 0.0:
            less = f"{-venting.water_g_kg:.1f} g/kg less water"
            then = f" Only then does opening it dry it: the air outside holds {less}."
        return f"{keep_shut(space, venting.shut_until, words)}.{then}"
    if venting.advice is VentAdvice.WETTER:
        return f"Keep {space} shut: the air outside holds {venting.water_g_kg:.1f} g/kg more water."
    return (
        f"Opening {space} up dries its air: outside there is {-venting.water_g_kg:.1f} g/kg less"
        " water in it."
    )


def unread_basis(facts: UnreadFacts, seen: Assessment, names: Names) -> str:
    """What was not read, and for how long."""
    space = names.space(seen.subject.space)
    if facts.stays:
        return (
            f"Of the thermometers in {space} only {plain(facts.stays)} is heard, which stays while"
            " its air falls."
        )
    if seen.hazard is Hazard.AIR:
        return f"No air reading from {space} for two hours."
    part = names.part(seen.subject.craft, seen.subject.part)
    water = " Water stands in its bilge." if facts.bilge_wet else ""
    return f"{part}: no {facts.missing} reading from {space} for two hours.{water}"


def unread_act(subject: Subject, names: Names) -> str:
    """How to know again how cold a space is."""
    return f"Read a thermometer in {names.space(subject.space)} by hand and mend its sensor."


def cold_ahead_text(ahead: ColdAhead, space: Space, words: Wording) -> str:
    """Say the coldest that a space may come to, and by whose word."""
    if not ahead.is_known:
        return f"Nobody knows how cold {plain(space.name)} will get."
    coldest = words.temperature(ahead.coldest_c, 0)
    if ahead.by_forecast:
        where = "" if space.kind in OUTDOORS else " outdoors"
        return f"Down to {coldest}{where} in the nights ahead, by {plain(ahead.by_forecast)}."
    return f"Tonight may bring it to {coldest}."
