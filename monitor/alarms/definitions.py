"""The alarm set: what is worth a person's attention, after how long, whose, and for which act.

Management of alarms after ISA-18.2 / IEC 62682: a cause that calls for no act is no alarm, it is
a line in the log. Delays are common practice for air and metal that change over hours.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from datetime import timedelta

from monitor.errors import BadValueError
from monitor.phrases.causes import CAUSE_TITLES, cause_title
from monitor.yard.alarm import Priority, Topic
from monitor.yard.assessment import Assessment, Caution, Hazard, Severity, Standing, Urgency
from monitor.yard.space import OUTDOORS, Role, SpaceKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Definition:
    """One cause of alarm.

    ``standings`` always hold; those in ``if_unproven`` only where the judgement names an act and
    no evidence shows that the subject can stand it. ``clears_above_k`` is the deadband: an alarm
    once raised clears only with that much margin. ``urgencies`` count for raising alone.
    """

    cause: str
    topic: Topic
    hazard: Hazard
    standings: frozenset[Standing]
    tells: frozenset[Role]
    priority: Priority  # where the judgement does not say how bad and how soon
    on_delay: timedelta
    off_delay: timedelta
    if_unproven: frozenset[Standing] = frozenset()
    off_delay_after_act: timedelta | None = None  # a person changed what the subject can stand
    clears_above_k: float | None = None
    realarm: timedelta | None = None  # acknowledged, but still there after so long
    never_missed: bool = False
    # How long it may wait for a letter that goes anyway: its act is the same some days later.
    waits: timedelta = timedelta(0)
    supersedes: str = ""  # a lesser cause over the same subject
    urgencies: frozenset[Urgency] | None = None  # None: any
    not_in: frozenset[SpaceKind] = frozenset()
    in_a_mix: bool | None = None  # ice of a proven mix alone, or all other; None: either
    act: str = ""  # where the judgement names none
    cautions: tuple[Caution, ...] = ()

    @property
    def title(self) -> str:
        """What people call it."""
        return cause_title(self.cause)


_OPERATOR = frozenset({Role.OPERATOR})
_MECHANIC = frozenset({Role.MECHANIC})


def _h(value: float) -> timedelta:
    return timedelta(hours=value)


_ALL = (
    Definition(
        cause="frost",
        topic=Topic.FROST,
        hazard=Hazard.FROST,
        # Exposed at the cold edge of the band: that edge lies some 2 K below what is expected, and
        # is margin enough. Thin circuits are told of beside those that are exposed.
        standings=frozenset({Standing.EXPOSED}),
        tells=frozenset({Role.OPERATOR, Role.OWNER}),
        priority=Priority.HIGH,
        on_delay=_h(0),
        # Longer than a day: the warmth of noon must not end a cold spell, or every night of the
        # winter would send its own mail.
        off_delay=_h(30),
        off_delay_after_act=_h(0),
        clears_above_k=2.5,
        never_missed=True,
        act="Drain it, treat it, or move it into warmth before its first ice.",
        cautions=(Caution.GLYCOL,),
    ),
    Definition(
        cause="ice",
        topic=Topic.FROST,
        hazard=Hazard.FROST,
        standings=frozenset({Standing.ICING, Standing.SOLID, Standing.SUSPECT}),
        tells=frozenset({Role.OPERATOR, Role.OWNER}),
        priority=Priority.HIGH,
        on_delay=_h(0.25),
        off_delay=_h(0.5),
        never_missed=True,
        supersedes="frost",
        in_a_mix=False,
        act="Do not start it. Thaw it slowly, then look for leaks and for water in the oil.",
        cautions=(Caution.CARBON_MONOXIDE, Caution.FUEL_VAPOUR),
    ),
    Definition(
        cause="third-ice",
        topic=Topic.FROST,
        hazard=Hazard.FROST,
        # Until a sample is read, also where the coming low would make it a third ice again.
        standings=frozenset({Standing.ICING, Standing.SUSPECT, Standing.EXPOSED}),
        tells=_OPERATOR | _MECHANIC | frozenset({Role.OWNER}),
        priority=Priority.HIGH,
        on_delay=_h(0.5),  # one bad reading is no slush
        off_delay=_h(0.5),  # thawed, it is in doubt until a sample is read
        supersedes="frost",
        in_a_mix=True,
        act="Do not start it. Bring heat to it; thawed, drain the mix and put a stronger one in.",
        cautions=(Caution.GLYCOL, Caution.CARBON_MONOXIDE, Caution.FUEL_VAPOUR),
    ),
    Definition(
        cause="moved-out",
        topic=Topic.FROST,
        hazard=Hazard.RECORD,
        standings=frozenset({Standing.OUT_OF_HEAT}),
        tells=_OPERATOR,
        priority=Priority.HIGH,
        on_delay=_h(0),
        off_delay=_h(0),  # a person's entry ends it
        never_missed=True,
        act="Move it back into the warm, or drain and treat it where it stands.",
        cautions=(Caution.GLYCOL, Caution.FUEL_VAPOUR),
    ),
    Definition(
        cause="voided",
        topic=Topic.FROST,
        hazard=Hazard.RECORD,
        standings=frozenset({Standing.VOIDED}),
        tells=_MECHANIC | frozenset({Role.OWNER}),
        priority=Priority.MEDIUM,
        on_delay=_h(0),
        off_delay=_h(0),
        act="Lay it up again from the flush on, and read a sample.",
        cautions=(Caution.CARBON_MONOXIDE, Caution.FUEL_VAPOUR, Caution.GLYCOL),
    ),
    Definition(
        cause="unreadable",
        topic=Topic.FROST,
        hazard=Hazard.RECORD,
        standings=frozenset({Standing.UNREADABLE}),
        tells=_OPERATOR,
        priority=Priority.HIGH,
        on_delay=_h(0),
        off_delay=_h(0),
        act="Put right what cannot be read; until then the craft counts as not laid up at all.",
    ),
    Definition(
        cause="file-refused",
        topic=Topic.FROST,
        hazard=Hazard.RECORD,
        standings=frozenset({Standing.NOT_TAKEN_IN}),
        tells=_OPERATOR,
        priority=Priority.HIGH,
        on_delay=_h(0),
        off_delay=_h(0),
        act="Correct the craft file, try it with `laidup check` and start laidup again.",
    ),
    Definition(
        cause="snow-load",
        topic=Topic.FROST,
        hazard=Hazard.RECORD,
        standings=frozenset({Standing.SNOWED}),
        tells=_OPERATOR,
        priority=Priority.MEDIUM,
        on_delay=_h(0),
        off_delay=_h(0),
        act="Clear it from the ground, look at frame and cover, and enter that it is cleared.",
        cautions=(Caution.SNOW_LOAD,),
    ),
    Definition(
        cause="cover-torn",
        topic=Topic.FROST,
        hazard=Hazard.RECORD,
        standings=frozenset({Standing.TORN}),
        tells=_MECHANIC,
        priority=Priority.LOW,
        on_delay=_h(0),
        off_delay=_h(0),
        realarm=_h(24),  # as long as there is to refit it
        act="Dry what got wet, fit a cover within a day, and look into bilge, lockers and hub.",
        cautions=(Caution.SNOW_LOAD,),
    ),
    Definition(
        cause="power-lost",
        topic=Topic.HEAT,
        hazard=Hazard.POWER,
        standings=frozenset({Standing.CUT_OFF}),
        tells=_OPERATOR,
        priority=Priority.HIGH,
        on_delay=_h(1 / 12),  # mains that dip, and a gateway that starts anew
        off_delay=_h(0.25),
        realarm=_h(6),
        never_missed=True,
        act="Go there: power, heater, fuel, and the gateway. Read the cold corner by hand.",
        cautions=(Caution.HEATERS, Caution.CARBON_MONOXIDE),
    ),
    Definition(
        cause="heat-loss",
        topic=Topic.HEAT,
        hazard=Hazard.AIR,
        standings=frozenset({Standing.FALLING}),
        if_unproven=frozenset({Standing.EXPOSED, Standing.THIN, Standing.LOW}),
        urgencies=frozenset(set(Urgency) - {Urgency.FUTURE}),
        tells=_OPERATOR,
        priority=Priority.HIGH,
        # The judgement has seen ten minutes of it: a door that opens for a delivery is no lost
        # heater. Five more would cost what the crew has before the cold corner freezes.
        on_delay=_h(0),
        off_delay=_h(2),
        realarm=_h(6),
        never_missed=True,
        supersedes="heat-off",
        not_in=OUTDOORS | {SpaceKind.COLD},
        act="Look at the heater, its power and its fuel; shut the doors; read the cold corner.",
        cautions=(Caution.CARBON_MONOXIDE, Caution.HEATERS, Caution.FUEL_VAPOUR),
    ),
    Definition(
        cause="heat-off",
        topic=Topic.HEAT,
        hazard=Hazard.AIR,
        standings=frozenset({Standing.FALLING}),
        urgencies=frozenset({Urgency.FUTURE}),  # no frost is due in it: the letter by day will do
        tells=_OPERATOR,
        priority=Priority.LOW,
        on_delay=_h(0.5),
        off_delay=_h(24),  # heat that comes and goes in mild weather is told once
        not_in=OUTDOORS | {SpaceKind.COLD},
        act="Look at the heater, its power and its fuel by day, before the next frost.",
        cautions=(Caution.CARBON_MONOXIDE, Caution.HEATERS, Caution.FUEL_VAPOUR),
    ),
    Definition(
        cause="battery-freezing",
        topic=Topic.BATTERY,
        hazard=Hazard.BATTERY,
        standings=frozenset({Standing.FREEZING, Standing.SUSPECT}),
        tells=_MECHANIC,
        priority=Priority.HIGH,
        on_delay=_h(0.5),
        off_delay=_h(12),
        off_delay_after_act=_h(0),
        clears_above_k=0.5,
        never_missed=True,
        act="Take it out and warm it. If it may be frozen already, do not charge it.",
        cautions=(Caution.FROZEN_BATTERY, Caution.HYDROGEN),
    ),
    Definition(
        cause="overcharge",
        topic=Topic.BATTERY,
        hazard=Hazard.CHARGING,
        standings=frozenset({Standing.OVERCHARGED, Standing.HOT}),
        tells=_OPERATOR,
        priority=Priority.HIGH,
        on_delay=_h(1 / 30),
        off_delay=_h(0.5),
        never_missed=True,
        act="Switch the maintainer off at the mains, air the place, and let the battery cool.",
        cautions=(Caution.HYDROGEN, Caution.FROZEN_BATTERY),
    ),
    Definition(
        cause="maintainer-lost",
        topic=Topic.BATTERY,
        hazard=Hazard.BATTERY,
        standings=frozenset({Standing.LOST}),
        tells=_MECHANIC,
        priority=Priority.MEDIUM,
        on_delay=_h(12),  # a finished unit rests, and mains go off for an hour's work
        off_delay=_h(6),
        act="Look at plug, fuse, lead and clamps.",
        cautions=(Caution.HYDROGEN, Caution.FROZEN_BATTERY),
    ),
    Definition(
        cause="battery-low",
        topic=Topic.BATTERY,
        hazard=Hazard.BATTERY,
        standings=frozenset(),
        if_unproven=frozenset({Standing.LOW}),
        tells=_MECHANIC,
        priority=Priority.LOW,
        on_delay=_h(24),
        off_delay=_h(24),
        act="Put it on a maintainer.",
        cautions=(Caution.HYDROGEN, Caution.FROZEN_BATTERY),
    ),
    Definition(
        cause="sweat",
        topic=Topic.DAMP,
        hazard=Hazard.DAMP,
        standings=frozenset({Standing.SWEATING, Standing.FROSTING, Standing.DEW_AHEAD}),
        tells=_OPERATOR,
        priority=Priority.MEDIUM,
        on_delay=_h(0.5),
        # Longer than a day: in a warm damp front metal sweats anew each morning, and is told once.
        off_delay=_h(30),
        clears_above_k=0.5,
        not_in=OUTDOORS,  # wet by nature: reported, no alarm
        act="Keep doors shut until the metal is above the dew point; move air, warm the metal.",
        cautions=(Caution.HEATERS,),
    ),
    Definition(
        cause="damp",
        topic=Topic.DAMP,
        hazard=Hazard.DAMP,
        standings=frozenset({Standing.DAMP}),
        tells=_OPERATOR,
        priority=Priority.LOW,
        waits=_h(72),  # mould takes weeks (VTT mould index); the week's letter has it too
        on_delay=_h(0),  # the judgement counts the day itself
        off_delay=_h(25),  # a dry noon a day does not end it
        not_in=OUTDOORS,  # wet by nature: reported, no alarm
        act="Dry the space: air it when the air outside holds less water, or run a dehumidifier.",
        cautions=(Caution.HEATERS,),
    ),
    Definition(
        cause="silence-urgent",
        topic=Topic.SILENCE,
        hazard=Hazard.SILENCE,
        standings=frozenset({Standing.SILENT}),
        urgencies=frozenset({Urgency.IMMEDIATE}),
        tells=_OPERATOR,  # who can read by hand tonight; the mechanic mends it by day
        priority=Priority.HIGH,
        # The judgement has waited for missing readings already; this is for a yard that starts.
        on_delay=_h(0.25),
        off_delay=_h(1),
        realarm=_h(12),
        never_missed=True,
        supersedes="silence",
        act="Read the space by hand, at its coldest corner, and go on doing so.",
    ),
    Definition(
        cause="silence",
        topic=Topic.SILENCE,
        hazard=Hazard.SILENCE,
        standings=frozenset({Standing.SILENT}),
        tells=_MECHANIC,
        priority=Priority.LOW,
        on_delay=_h(2),
        off_delay=_h(6),
        act="Look at the sensor's battery, its radio and its place; mend it within the day.",
    ),
    Definition(
        cause="blind-space",
        topic=Topic.SILENCE,
        hazard=Hazard.AIR,
        standings=frozenset({Standing.NOT_KNOWN}),
        tells=_OPERATOR,
        priority=Priority.MEDIUM,
        on_delay=_h(0.5),
        off_delay=_h(1),
        realarm=_h(24),
        act="Nobody can judge this space. Read it by hand, and put a sensor there that sends.",
    ),
    Definition(
        cause="sensors-apart",
        topic=Topic.SILENCE,
        hazard=Hazard.SENSING,
        standings=frozenset({Standing.APART}),
        tells=_MECHANIC,
        priority=Priority.LOW,
        on_delay=_h(0),  # the judgement looks at the whole last hour
        off_delay=_h(24),  # where the sun stands by day is no other cause
        act="Look where they hang, and compare them side by side.",
    ),
    Definition(
        cause="sensor-doubted",
        topic=Topic.SILENCE,
        hazard=Hazard.SENSING,
        standings=frozenset({Standing.DOUBTED}),
        tells=_MECHANIC,
        priority=Priority.LOW,
        on_delay=_h(0),  # the judgement looks at hours or days
        off_delay=_h(24),  # a head that dries by day and ices by night is told once
        act="Look at it: wet, iced, stuck, or hung in another's place.",
    ),
    Definition(
        cause="sensor-battery-low",
        topic=Topic.SILENCE,
        hazard=Hazard.SENSOR_BATTERY,
        standings=frozenset({Standing.LOW}),
        tells=_MECHANIC,
        priority=Priority.LOW,
        on_delay=_h(1),  # one odd reading is none
        off_delay=_h(24),
        act="Change its battery, before it falls silent in the cold.",
    ),
    Definition(
        cause="forecast-old",
        topic=Topic.SILENCE,
        hazard=Hazard.FORECAST,
        standings=frozenset({Standing.STALE}),
        tells=_OPERATOR,
        priority=Priority.LOW,
        on_delay=_h(0),
        off_delay=_h(6),  # a line that comes and goes is told once
        act="Look at the sky and at a forecast yourself.",
    ),
    Definition(
        cause="own-clock",
        topic=Topic.SILENCE,
        hazard=Hazard.OWN_CLOCK,
        standings=frozenset({Standing.CLOCK_WRONG}),
        tells=_OPERATOR,
        priority=Priority.HIGH,
        on_delay=_h(0),  # most sensors have said so by then
        off_delay=_h(0.25),
        never_missed=True,  # by a wrong clock nobody's quiet hours are known either
        act="Set the machine's clock, and let the network keep it.",
    ),
    Definition(
        cause="broker-drops",
        topic=Topic.SILENCE,
        hazard=Hazard.BROKER,
        standings=frozenset({Standing.DROPPED}),
        tells=_OPERATOR,
        priority=Priority.MEDIUM,
        on_delay=_h(0),
        off_delay=_h(0),  # a day without one has passed already
        act="Raise the broker's max_queued_messages.",
    ),
    Definition(
        cause="foreign-sender",
        topic=Topic.SILENCE,
        hazard=Hazard.SENDER,
        standings=frozenset({Standing.FOREIGN}),
        tells=_OPERATOR,
        priority=Priority.MEDIUM,
        on_delay=_h(0),
        # A day without one has passed already, or laidup was started with another yard's file: it
        # counts anew then, and who goes on sending is the same matter.
        off_delay=_h(1),
        act="Find out who sends in that sensor's name, and change the password that he uses.",
    ),
    Definition(
        cause="disk-filling",
        topic=Topic.SILENCE,
        hazard=Hazard.DISK,
        standings=frozenset({Standing.FILLING}),
        tells=_OPERATOR,
        priority=Priority.MEDIUM,
        on_delay=_h(0),
        off_delay=_h(1),
        realarm=_h(24),
        act="Make room on the disk of the store.",
    ),
    Definition(
        cause="disk-full",
        topic=Topic.SILENCE,
        hazard=Hazard.DISK,
        standings=frozenset({Standing.FULL}),
        tells=_OPERATOR,
        priority=Priority.HIGH,
        on_delay=_h(0),
        off_delay=_h(0.25),
        realarm=_h(6),
        never_missed=True,
        supersedes="disk-filling",
        act="Make room on the disk of the store.",
    ),
    Definition(
        cause="store-damaged",
        topic=Topic.SILENCE,
        hazard=Hazard.STORE,
        standings=frozenset({Standing.DAMAGED}),
        tells=_OPERATOR,
        priority=Priority.HIGH,
        on_delay=_h(0),
        off_delay=_h(0),  # only a sound file ends it
        realarm=_h(24),
        never_missed=True,
        act="Put the last good copy of the store in its place.",
    ),
    Definition(
        cause="record-rewritten",
        topic=Topic.SILENCE,
        hazard=Hazard.STORE,
        standings=frozenset({Standing.REWRITTEN}),
        tells=_OPERATOR,
        priority=Priority.HIGH,
        on_delay=_h(0),
        off_delay=_h(0),
        act="Compare the store with a backup, with the mails since and with the paper.",
    ),
    Definition(
        cause="path-failed",
        topic=Topic.PATH,
        hazard=Hazard.SILENCE,
        standings=frozenset({Standing.LOST}),
        tells=_OPERATOR,
        priority=Priority.HIGH,
        on_delay=_h(0),  # ten minutes of failed tries have passed already
        off_delay=_h(0.25),
        never_missed=True,
        act="Until it is mended look at the page and the lamp, and tell people by telephone.",
    ),
)

DEFINITIONS: Mapping[str, Definition] = {definition.cause: definition for definition in _ALL}
for _cause in DEFINITIONS.keys() ^ CAUSE_TITLES.keys():
    raise ValueError(f"{_cause}: has a title or a definition, and not both")


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjustment:
    """What a yard sets differently for one cause; None leaves it as it is."""

    on_delay: timedelta | None = None
    off_delay: timedelta | None = None
    clears_above_k: float | None = None
    tells: frozenset[Role] | None = None
    priority: Priority | None = None
    realarm: timedelta | None = None


def adjusted(changes: Mapping[str, Adjustment]) -> dict[str, Definition]:
    """The alarm set with a yard's own limits.

    Parameters
    ----------
    changes : mapping of cause to Adjustment

    Raises
    ------
    ValueError
        If there is no such cause, a delay is negative, an alarm that must never be missed would
        wait for more than an hour, or nobody would be told.
    """
    result = dict(DEFINITIONS)
    for cause, change in changes.items():
        if cause not in result:
            known = ", ".join(sorted(result))
            raise BadValueError(f"{cause!r} is no cause of alarm", f"there are {known}")
        given = {
            field.name: value
            for field in fields(change)
            if (value := getattr(change, field.name)) is not None
        }
        definition = replace(result[cause], **given)
        _check(definition)
        result[cause] = definition
    return result


def _check(definition: Definition) -> None:
    delays = (definition.on_delay, definition.off_delay, definition.realarm or timedelta(0))
    if min(delays) < timedelta(0):
        raise ValueError(f"{definition.cause}: a delay cannot be negative")
    if definition.never_missed and definition.on_delay > timedelta(hours=1):
        raise BadValueError(
            f"{definition.cause} must never be missed",
            "its on-delay may be an hour at most",
        )
    if not definition.tells & {Role.OPERATOR, Role.MECHANIC}:
        raise ValueError(f"{definition.cause}: nobody of the yard would be told")


# The causes that take over from a lesser one on the same subject.
GRAVER: Mapping[str, tuple[str, ...]] = {
    lesser: tuple(each.cause for each in _ALL if each.supersedes == lesser)
    for lesser in sorted({each.supersedes for each in _ALL} - {""})
}
# Causes that say of a whole space what each of its sensors would say by itself.
TOLD_FOR_ALL: Mapping[str, str] = {
    "silence": "power-lost",
    "silence-urgent": "power-lost",
    "blind-space": "power-lost",
}
# Of these hazards only what is wrong is judged: nothing said is nothing wrong.
ONLY_WRONG = frozenset(
    {Hazard.POWER, Hazard.RECORD, Hazard.CHARGING, Hazard.SENSING, Hazard.SENSOR_BATTERY}
)


def title_of(definition: Definition, assessment: Assessment | None) -> str:
    """What a cause is called, also where a forecast has it come, or it has been."""
    standing = None if assessment is None else assessment.standing
    ahead, past = standing is Standing.DEW_AHEAD, standing is Standing.SUSPECT
    return cause_title(definition.cause, ahead=ahead, past=past)


_SOON = {Urgency.IMMEDIATE, Urgency.EXPECTED}


def priority_of(definition: Definition, assessment: Assessment | None) -> Priority:
    """How an alarm ranks: by what it would cost and how soon, in CAP's words.

    Where the judgement leaves either open, the definition's own priority stands.
    """
    if assessment is None or Severity.UNKNOWN is assessment.severity:
        return definition.priority
    if assessment.urgency is Urgency.UNKNOWN:
        return definition.priority
    grave = assessment.severity in {Severity.EXTREME, Severity.SEVERE}
    if grave and assessment.urgency in _SOON:
        return Priority.HIGH
    if grave or (assessment.severity is Severity.MODERATE and assessment.urgency in _SOON):
        return Priority.MEDIUM
    return Priority.LOW
