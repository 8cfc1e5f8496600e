"""The words of a judgement: what is feared, how a subject stands against it, and CAP's three."""

from collections.abc import Mapping
from enum import StrEnum


class Hazard(StrEnum):
    """What is feared."""

    FROST = "frost"
    DAMP = "damp"
    BATTERY = "battery"
    AIR = "air"  # a space's own air: how cold it gets, and whether it is losing its heat
    SILENCE = "silence"  # nothing heard from where something should be
    POWER = "power"  # a warm space goes dark: its mains, or the gateway of its sensors
    CHARGING = "charging"  # a maintainer that drives a battery too hard
    RECORD = "record"  # what people have entered, and nobody has put right since
    SENSING = "sensing"  # sensors of one space that contradict each other
    SENSOR_BATTERY = "sensor battery"  # a sensor whose own battery runs out falls silent next
    OWN_CLOCK = "own clock"  # of the machine that this runs on
    BROKER = "broker"  # that throws messages away
    SENDER = "sender"  # that sends readings in a sensor's name, and is not that sensor's
    DISK = "disk"  # of the store: no room
    STORE = "store"  # its file: damage
    FORECAST = "forecast"  # what a public agency says of the coming nights


class Standing(StrEnum):
    """How a subject stands against its hazard."""

    # a circuit against frost
    HOLDING = "holding"
    THIN = "thin"  # inside the margin
    SLUSH = "slush"  # a proven mix below its ice point, less than a third of it ice
    EXPOSED = "exposed"  # the coming low passes what it can stand
    ICING = "icing"  # ice is computed to be forming now
    SOLID = "solid"  # computed frozen through
    # has been through ice, or a battery through cold that may have frozen it: in doubt until a
    # person has looked into it
    SUSPECT = "suspect"
    # a surface against damp
    DRY = "dry"
    WETTING = "wetting"  # RH over 80 % above 0 °C (ISO 9223)
    SWEATING = "sweating"  # surface below dew point
    FROSTING = "frosting"  # surface below frost point, and below 0 °C
    DEW_AHEAD = "dew ahead"  # dry yet, and a forecast has it sweat for hours
    DAMP = "damp"  # a space's air: wetting for a whole day
    # a battery and its maintainer
    CHARGED = "charged"
    LOW = "low"
    FREEZING = "freezing"  # the coming low passes its electrolyte's freezing point
    LOST = "lost"  # the maintainer no longer feeds it
    OVERCHARGED = "overcharged"  # held above what any right charge needs
    HOT = "hot"  # so warm that charging it must end
    # a space or sensor
    STEADY = "steady"
    FALLING = "falling"  # heat lost
    LATE = "late"
    SILENT = "silent"
    CUT_OFF = "cut off"  # without power, or all its sensors fell silent together
    APART = "apart"  # sensors of one space differ by more than its air does
    DOUBTED = "doubted"  # what a sensor says is not the air's, and what rests on it is not judged
    STALE = "stale"  # a forecast too old to plan by
    # the way in
    CLOCK_WRONG = "clock wrong"  # this machine's is not the one that its sensors agree on
    DROPPED = "dropped"  # messages that the broker had acknowledged
    FOREIGN = "foreign"  # readings that came on a topic which is not their sensor's
    # the store
    FILLING = "filling"  # its disk: room for days yet
    FULL = "full"  # its disk: next to no room, or what was kept for then is in use
    DAMAGED = "damaged"  # its file
    REWRITTEN = "rewritten"  # the lay-up record as a whole: cut at its end, or other than it was
    # a craft's record
    VOIDED = "voided"  # its lay-up was undone, and not done again
    OUT_OF_HEAT = "out of the heat"  # safe only while warm, and moved to where it is not
    SNOWED = "snow on it"
    TORN = "torn"  # its cover
    UNREADABLE = "unreadable"  # what is on record of it cannot be read, so nothing of it counts
    NOT_TAKEN_IN = "not taken in"  # what a craft file says of it contradicts itself or the record
    # anything
    NOT_KNOWN = "not known"  # no fresh reading to judge by


# The standings that are judged of each hazard; of each pair `monitor.phrases.standings` has a row.
STANDINGS: Mapping[Hazard, frozenset[Standing]] = {
    Hazard.FROST: frozenset(
        {
            Standing.HOLDING,
            Standing.THIN,
            Standing.SLUSH,
            Standing.EXPOSED,
            Standing.ICING,
            Standing.SOLID,
            Standing.SUSPECT,
            Standing.NOT_KNOWN,
        }
    ),
    Hazard.DAMP: frozenset(
        {
            Standing.DRY,
            Standing.WETTING,
            Standing.SWEATING,
            Standing.FROSTING,
            Standing.DEW_AHEAD,
            Standing.DAMP,
            Standing.NOT_KNOWN,
        }
    ),
    Hazard.BATTERY: frozenset(
        {
            Standing.CHARGED,
            Standing.LOW,
            Standing.FREEZING,
            Standing.SUSPECT,
            Standing.LOST,
            Standing.NOT_KNOWN,
        }
    ),
    Hazard.AIR: frozenset(
        {
            Standing.STEADY,
            Standing.FALLING,
            Standing.EXPOSED,
            Standing.THIN,
            Standing.LOW,
            Standing.NOT_KNOWN,
        }
    ),
    Hazard.SILENCE: frozenset(
        {
            Standing.STEADY,
            Standing.LATE,
            Standing.SILENT,
            Standing.LOST,  # a path by which people are told
            Standing.NOT_KNOWN,
        }
    ),
    Hazard.POWER: frozenset({Standing.STEADY, Standing.CUT_OFF, Standing.NOT_KNOWN}),
    Hazard.CHARGING: frozenset({Standing.OVERCHARGED, Standing.HOT, Standing.NOT_KNOWN}),
    Hazard.RECORD: frozenset(
        {
            Standing.VOIDED,
            Standing.OUT_OF_HEAT,
            Standing.SNOWED,
            Standing.TORN,
            Standing.UNREADABLE,
            Standing.NOT_TAKEN_IN,
        }
    ),
    Hazard.SENSING: frozenset({Standing.APART, Standing.DOUBTED}),
    Hazard.SENSOR_BATTERY: frozenset({Standing.LOW}),
    Hazard.OWN_CLOCK: frozenset({Standing.CLOCK_WRONG}),
    Hazard.BROKER: frozenset({Standing.DROPPED}),
    Hazard.SENDER: frozenset({Standing.FOREIGN}),
    Hazard.DISK: frozenset({Standing.FILLING, Standing.FULL}),
    Hazard.STORE: frozenset({Standing.DAMAGED, Standing.REWRITTEN}),
    Hazard.FORECAST: frozenset({Standing.STEADY, Standing.STALE}),
}


class Urgency(StrEnum):
    """How soon an act is needed (OASIS CAP 1.2)."""

    IMMEDIATE = "Immediate"
    EXPECTED = "Expected"
    FUTURE = "Future"
    PAST = "Past"
    UNKNOWN = "Unknown"


class Severity(StrEnum):
    """How bad it would be (OASIS CAP 1.2)."""

    EXTREME = "Extreme"
    SEVERE = "Severe"
    MODERATE = "Moderate"
    MINOR = "Minor"
    UNKNOWN = "Unknown"


class Certainty(StrEnum):
    """How sure we are (OASIS CAP 1.2)."""

    OBSERVED = "Observed"
    LIKELY = "Likely"
    POSSIBLE = "Possible"
    UNLIKELY = "Unlikely"
    UNKNOWN = "Unknown"
