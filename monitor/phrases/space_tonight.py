"""What tonight brings for a space, what its circuits can stand of it, and how a sensor does."""

from collections.abc import Sequence
from datetime import date
from math import isfinite

from monitor.phrases.air import venting_advice
from monitor.phrases.names import Names, plain
from monitor.phrases.numbers import nights_like_this
from monitor.wording import Wording, listed
from monitor.yard.air_facts import AirFacts, VentAdvice
from monitor.yard.assessment import Assessment
from monitor.yard.calibration_due import NextCalibration
from monitor.yard.facts import SilenceFacts
from monitor.yard.space import Mount, Sensor, Space, SpaceKind


def space_tonight(seen: Assessment | None, words: Wording) -> str:
    """How low the air of a space goes tonight, by its median and where it most likely lies."""
    if seen is None or not isfinite(seen.low_c):
        return "Nobody knows how cold it gets: no fresh reading of its air."
    facts = seen.facts
    if not isinstance(facts, AirFacts) or not isfinite(facts.low_band_low_c):
        return f"Down to {words.temperature(seen.low_c)} about {words.clock(seen.low_at)}."
    cold, middle, warm = (
        words.temperature(each)
        for each in (facts.low_band_low_c, facts.low_expected_c, facts.low_band_high_c)
    )
    ice = ""
    if isfinite(facts.chance_below_zero):
        point = words.temperature(0.0, 0)
        ice = f" Below {point} {nights_like_this(facts.chance_below_zero)}."
    about = f" about {words.clock(seen.low_at)}"
    return f"Down to {middle}{about}, most likely {cold} to {warm}.{ice}"


def venting_text(seen: Assessment | None, space: Space, words: Wording) -> str:
    """Whether to open a space up or keep it shut, and until when that holds."""
    if space.kind is SpaceKind.OPEN:
        return "It stands in the open: there is nothing to open or shut."
    facts = None if seen is None else seen.facts
    if not isinstance(facts, AirFacts) or facts.venting is None:
        return "Nobody can say whether to open it: the air outside is not read."
    if facts.venting.advice is VentAdvice.NONE:
        return "Opening it or not makes no difference now, within what the sensors can tell."
    name = plain(space.name)
    advice = venting_advice(facts.venting, name, words)
    if facts.venting.advice is VentAdvice.DRIES and _freezes_soon(seen):
        later = f"{advice[0].lower()}{advice[1:]}"
        return f"Keep {name} shut while frost is about. Once it has passed: {later}"
    return advice


def _freezes_soon(seen: Assessment | None) -> bool:
    """Whether the coming night takes the air below freezing, or it is there already."""
    return seen is not None and seen.deadline is not None


def limit_of_several(
    those: Sequence[Assessment], limit_c: float, names: Names, words: Wording
) -> str:
    """What can stand no lower than a limit: its name, or how many they are."""
    craft = sorted({each.subject.craft for each in those})
    who = names.craft_name(craft[0]) if len(craft) == 1 else f"{len(craft)} craft"
    return f"{who}: ice at {words.ice_point(limit_c)}"


def deeper_than_drawn(craft: int) -> str:
    """How many craft have circuits whose limit lies below the chart; empty for none."""
    if not craft:
        return ""
    return f"Below what is drawn: limits of {craft} craft."


def place_of_sensor(sensor: Sensor, names: Names) -> str:
    """Where a sensor hangs, what it touches and how high."""
    height = f", {sensor.height_m:g} m up" if sensor.height_m is not None else ""
    place = names.sensor_place(sensor.name)
    if sensor.mount is Mount.BATTERY and sensor.craft:
        return f"Maintainer of {names.craft_name(sensor.craft)}: {place}{height}"
    touches = "" if sensor.mount is Mount.AIR else f" ({sensor.mount})"
    of = f", {names.craft_name(sensor.craft)}" if sensor.craft else ""
    if " " in place:  # words of a person, and no name of a device
        place = f"{place[:1].upper()}{place[1:]}"
    return f"{place}{touches}{of}{height}"


def heard_text(seen: Assessment | None, words: Wording) -> str:
    """When a sensor was last heard."""
    facts = None if seen is None else seen.facts
    if not isinstance(facts, SilenceFacts):
        return "not judged"
    if facts.heard_at is None:
        return "never heard in these days"
    return f"heard {words.clock(facts.heard_at)}"


def quality_text(counts: Sequence[tuple[str, int]]) -> str:
    """How its readings of a day came through the checks on the way in."""
    total = sum(number for _, number in counts)
    bad = [f"{number} {name}" for name, number in counts if number and name != "pass"]
    if not total:
        return "no reading in the last 24 h"
    return f"{total} readings in 24 h, {f'of them {listed(bad)}' if bad else 'all good'}"


def calibration_text(due: Sequence[NextCalibration], today: date) -> str:
    """When a sensor was compared with a standard, and when it is to be again."""
    if not due:
        return "never compared: judged by what its maker promises"
    said = []
    for one in due:
        last = one.last
        made = f"{last.made_on.day} {last.made_on:%b %Y}"
        when = "due now" if one.is_due(today) else f"due {one.due_on.day} {one.due_on:%b %Y}"
        said.append(f"{last.channel}: {plain(last.standard)}, {made}; {when}")
    return "; ".join(said)
