"""What is said of sensors, power and the public forecast: whether the watch itself can see."""

from collections.abc import Iterator, Sequence
from math import isnan

from monitor.phrases.names import Names, plain
from monitor.phrases.step_in_words import capitalize_first
from monitor.wording import Wording
from monitor.yard.assessment import Assessment, Standing, Subject
from monitor.yard.calibration_due import NextCalibration
from monitor.yard.facts import (
    DoubtFacts,
    ForecastFacts,
    Outage,
    PathFacts,
    PowerFacts,
    SensingFacts,
    SensorBatteryFacts,
    SensorFault,
    SilenceFacts,
)
from monitor.yard.reading import Channel
from monitor.yard.space import Mount

_CHANNEL = {
    Channel.TEMPERATURE: "temperature",
    Channel.HUMIDITY: "humidity",
    Channel.VOLTAGE: "voltage",
}
_LOOK_AT = {
    Mount.AIR: "read a thermometer there by hand",
    Mount.SURFACE: "feel that its lead still touches the metal",
    Mount.BATTERY: "look at its lamp, plug and fuse: the battery may be without charge",
}


def silence_basis(facts: SilenceFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """When a sensor was last heard, and how often it should be."""
    sensor = names.sensor_title(seen.subject.part)
    if facts.heard_at is None or isnan(facts.quiet_s):
        return f"{sensor} has sent nothing in four days."
    if facts.channel is not None:
        return (
            f"{sensor} still sends, but no {_CHANNEL[facts.channel]} since"
            f" {words.clock(facts.heard_at)}, {span_of(facts.quiet_s)} ago: a lead or its element"
            " may be broken."
        )
    says = "promises to send" if facts.promised else "usually sends"
    return (
        f"{sensor} was last heard at"
        f" {words.clock(facts.heard_at)}, {span_of(facts.quiet_s)} ago; it {says} every"
        f" {span_of(facts.interval_s)}."
    )


def silence_act(facts: SilenceFacts, subject: Subject, names: Names) -> str:
    """What to look at where a sensor has gone quiet."""
    return f"Look at {names.sensor_title(subject.part)}: {_LOOK_AT[facts.mount]}."


def short_silence_act(facts: SilenceFacts) -> str:
    """The same in a line that names the sensor's place already."""
    return f"Look at the sensor: {_LOOK_AT[facts.mount]}."


def sensor_battery_basis(
    facts: SensorBatteryFacts, seen: Assessment, names: Names, words: Wording
) -> str:
    """What a sensor says of its own battery."""
    return (
        f"{names.sensor_title(seen.subject.part)} said at {words.clock(facts.said_at)} that"
        f" {facts.left_pct:.0f} % of its own battery is left; cold takes more of it."
    )


def sensor_battery_act(subject: Subject, names: Names) -> str:
    """What to do about a sensor's battery."""
    return (
        f"Change the battery of {names.sensor_title(subject.part)}, before it falls silent in the"
        " cold."
    )


def power_basis(facts: PowerFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """How a warm space went dark, and what stands in it."""
    space, since = names.space(seen.subject.space), words.clock(facts.since)
    said = {
        Outage.NONE: f"{space} is heard, and its mains are not said to be off.",
        Outage.MAINS_OFF: f"{space} has no mains since {since} at the latest.",
        Outage.YARD_SILENT: (
            f"Every sensor of the yard fell silent about {since}: power, the gateway, or the way"
            " to the broker."
        ),
        Outage.SPACE_SILENT: (
            f"All {facts.sensors} sensors of {space} fell silent about {since}: power, or the"
            " gateway that takes them in."
        ),
        Outage.NEVER_HEARD: f"No sensor of {space} was heard in four days.",
    }[facts.outage]
    if facts.outage is Outage.NONE:
        return said
    return f"{said} Not all craft there stand the cold: only its heat keeps them."


def power_act(subject: Subject, names: Names) -> str:
    """What to do in a space that went dark."""
    return (
        f"Go to {names.space(subject.space)}: power, heater, fuel, and the gateway. Read a"
        " thermometer at its coldest corner, and go on doing so until its sensors are heard again."
    )


def sensing_basis(facts: SensingFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """By how much the sensors of a space differ."""
    return (
        f"For an hour the sensors of {names.space(seen.subject.space)} have differed by"
        f" {words.difference(facts.apart_k)} or more; the coldest of them decides what freezes."
    )


def sensing_act(subject: Subject, names: Names) -> str:
    """What to look at where sensors differ."""
    return (
        f"Look where the sensors of {names.space(subject.space)} hang: sun, a jet of air, or one"
        " is wrong. Compare them side by side."
    )


def doubt_basis(facts: DoubtFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """What is wrong with a sensor, and what of it is not judged on."""
    sensor, lasted = names.sensor_title(seen.subject.part), span_of(3600.0 * facts.hours)
    moved, apart = (
        "" if isnan(value) else words.difference(abs(value))
        for value in (facts.air_range_k, facts.apart_k)
    )
    withheld = " Its humidity and dew point are not judged on; its temperature is."
    match facts.fault:
        case SensorFault.SATURATED:
            return (
                f"{sensor} has said {facts.low_pct:.0f} to {facts.high_pct:.0f} % for {lasted},"
                f" while its air went up and down by {moved}: no real air stays saturated through"
                f" that.{withheld}"
            )
        case SensorFault.UNMOVED:
            return (
                f"{sensor} has stayed between {facts.low_pct:.0f} and {facts.high_pct:.0f} % for"
                f" {lasted}, while its air went up and down by {moved}: real air does"
                f" not.{withheld}"
            )
        case SensorFault.REFUSED:
            return (
                f"The humidity of {sensor} was refused by the checks on readings for {lasted}: out"
                f" of range, too fast, or a value that never changes.{withheld}"
            )
        case SensorFault.STUCK:
            return _stuck_basis(facts, seen, names, words)
        case SensorFault.AIR_REFUSED:
            return (
                f"The temperature of {sensor} was refused by the checks on readings for {lasted}:"
                " out of range, too fast, or a value that never changes. Nothing is judged on it."
            )
        case SensorFault.OFF_FORECAST:
            side = "above" if facts.apart_k > 0 else "below"
            return (
                f"For {lasted} the dew point at {sensor} has lain {side} what"
                f" {plain(facts.source)} expected, by {apart} in the middle: the sensor or the"
                " forecast is wrong. The sensor is gone by."
            )
        case SensorFault.IN_SUN:
            held = plain(facts.source) if facts.source else "the others beside it"
            return (
                f"By day {sensor} has read {apart} warmer than {held}, on two days, and not at"
                " night: the sun shines on it. The nights' lows are still judged by it."
            )
        case SensorFault.DEW_APART:
            side = "above" if facts.apart_k > 0 else "below"
            return (
                f"For {lasted} the dew point at {sensor} has lain {side} that of the others in"
                f" {names.space(seen.subject.space)}, by {apart} in the middle: one of them is"
                " wrong. The mean of all is gone by."
            )
        case SensorFault.EXCHANGED:
            return _exchanged_basis(facts, seen, names, apart)


def _stuck_basis(facts: DoubtFacts, seen: Assessment, names: Names, words: Wording) -> str:
    """Since when a thermometer has stayed where it was, and what is judged by instead."""
    sensor, lasted = names.sensor_title(seen.subject.part), span_of(3600.0 * facts.hours)
    others = names.sensor_title(facts.other) if facts.other else "the others"
    side = "warmer" if facts.usual_k >= 0.0 else "colder"
    return (
        f"{sensor} has stayed for {lasted}, while {others} fell: it is"
        f" {words.difference(facts.apart_k)} warmer beside it than before. Its place is taken to be"
        f" {words.difference(abs(facts.usual_k))} {side}, as it was until then. Its humidity is not"
        " judged on."
    )


def _exchanged_basis(facts: DoubtFacts, seen: Assessment, names: Names, apart: str) -> str:
    """Why sensors of two spaces may be in each other's place, and what is judged by meanwhile."""
    lasted = span_of(3600.0 * facts.hours)
    space, other = names.space(seen.subject.space), names.space(facts.other_space)
    if facts.carried:
        why = (
            f"{lasted} ago the air of {space} and {other} changed places within an hour: each went"
            " on where the other had been."
        )
    elif apart:
        why = (
            f"For {lasted} {space} has been {apart} or more colder than {other}, and swings more:"
            " no building is."
        )
    else:
        why = f"{space} was far colder than {other}, and since then no day has shown it the warmer."
    return (
        f"{why} The two sensors may have been exchanged. Both spaces are judged by the colder of"
        " the two until that is put right, and not for damp."
    )


def doubt_act(facts: DoubtFacts, subject: Subject, names: Names) -> str:
    """What to look at where a sensor is in doubt."""
    sensor = names.sensor_title(subject.part)
    match facts.fault:
        case SensorFault.EXCHANGED:
            return (
                f"See where {sensor} and {names.sensor_title(facts.other)} hang, and put them or"
                " the yard's file right today. Read both places by hand until then."
            )
        case SensorFault.IN_SUN:
            return f"Hang {sensor} in the shade, or under a ventilated shield."
        case SensorFault.DEW_APART:
            return f"Compare {sensor} with the others side by side, and check it over salt."
        case SensorFault.STUCK:
            space = names.space(subject.space)
            return f"Read a thermometer in {space} by hand, and see why {sensor} stays as it is."
        case SensorFault.AIR_REFUSED:
            space = names.space(subject.space)
            return f"Read a thermometer in {space} by hand, and mend or replace {sensor}."
        case SensorFault.SATURATED:
            look = "is its head wet, iced or under salt?"
        case _:
            look = "is it stuck, or in a draught of its own?"
    return f"Look at {sensor}: {look} Dry it, and check it over salt."


def forecast_basis(facts: ForecastFacts, seen: Assessment) -> str:
    """How old the public forecast is, and what the lows rest on without it."""
    said = (
        "No public forecast has come yet."
        if facts.age_h is None
        else f"The public forecast was last the newest {facts.age_h:.0f} h ago."
    )
    problem = plain(facts.problem, 300).rstrip(". ")
    why = f" Last answer: {problem}." if problem else ""
    own = " Tonight's lows rest on the yard's own readings."
    return f"{said}{why}{own if seen.standing is Standing.STALE else ''}"


def forecast_act() -> str:
    """What to do without a forecast."""
    return "Look at the sky and at a forecast yourself, and see to the way out to the internet."


def path_basis(facts: PathFacts, words: Wording) -> str:
    """How many messages did not get through, since when, and the last answer."""
    count = f"{facts.messages} message{'' if facts.messages == 1 else 's'}"
    what = f"{count} by {facts.channel} could not be handed over"
    if facts.person:
        what = f"{count} to {plain(facts.person)} by {facts.channel} will not be tried again"
    return f"{what}, the oldest of {words.clock(facts.since)}. Last answer: {facts.answer}."


def path_act(facts: PathFacts) -> str:
    """What to do where an address is refused."""
    person = plain(facts.person)
    return f"Put the address of {person} right, and tell them by telephone."


def span_of(seconds: float) -> str:
    """Write ``45 s``, ``15 min`` or ``3 h``."""
    if seconds < 90.0:
        return f"{seconds:.0f} s"
    return f"{seconds / 60.0:.0f} min" if seconds < 5400.0 else f"{seconds / 3600.0:.0f} h"


def due_lines(due: Sequence[NextCalibration], names: Names, most: int) -> Iterator[str]:
    """One sentence each of the first, and how many more there are."""
    for one in due[:most]:
        title = capitalize_first(names.sensor_title(one.sensor))
        yield f"{title}: calibration due since {one.due_on}. {_last_comparison(one)}"
    if len(due) > most:
        more = len(due) - most
        count = f"{more} more calibration{' is' if more == 1 else 's are'}"
        yield f"{count} due: `laidup status` has all."


def next_line(one: NextCalibration, names: Names) -> str:
    """When the next one is due, of which sensor."""
    title = names.sensor_title(one.sensor)
    return f"Next calibration due on {one.due_on}: {title}. {_last_comparison(one)}"


def never_line(count: int, sensors: int) -> str:
    """How many sensors have never been compared."""
    return (
        f"Never compared with a standard: {count} of {sensors} sensors. They are believed as their"
        " makers promise."
    )


def _last_comparison(one: NextCalibration) -> str:
    last = one.last
    return f"Its {last.channel} was last compared on {last.made_on}: {plain(last.standard)}."
