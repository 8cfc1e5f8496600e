"""Whether each cause of alarm holds over each subject, by this round's judgements."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from math import isfinite, isnan

from monitor.alarms.causes.lifecycle import Observation
from monitor.alarms.definitions import (
    GRAVER,
    ONLY_WRONG,
    TOLD_FOR_ALL,
    Definition,
    priority_of,
)
from monitor.craft.protection import LayupState
from monitor.craft.stored import StoredCraft
from monitor.phrases.names import part_name, plain, space_name
from monitor.yard.alarm import ACTIVE, Alarm, AlarmState
from monitor.yard.alarm_facts import Blindness, HeadlineFacts
from monitor.yard.assessment import Assessment, Hazard, Standing
from monitor.yard.battery_facts import BatteryFacts
from monitor.yard.facts import SilenceFacts, past_ice_of
from monitor.yard.frost_facts import FrostFacts
from monitor.yard.reading import Channel
from monitor.yard.space import Mount, Sensor, Yard
from monitor.yard.watch import Watch, WatchKey

_HEARD = frozenset({Standing.STEADY, Standing.LATE})


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedYard:
    """One round's judgements, laid out so that each cause finds its subjects."""

    yard: Yard
    craft: Mapping[str, StoredCraft]
    by_hazard: Mapping[Hazard, Mapping[tuple[str, str, str], Assessment]]
    lived_in: frozenset[str]  # spaces that hold a craft or a battery
    sensors: frozenset[str]

    @classmethod
    def lay_out(
        cls,
        yard: Yard,
        craft: Mapping[str, StoredCraft],
        assessments: Iterable[Assessment],
    ) -> "JudgedYard":
        """Lay out one round's judgements."""
        by_hazard: dict[Hazard, dict[tuple[str, str, str], Assessment]] = {h: {} for h in Hazard}
        for assessment in assessments:
            by_hazard[assessment.hazard][_place(assessment)] = assessment
        batteries = (each.battery.space for each in craft.values() if each.battery is not None)
        return cls(
            yard=yard,
            craft=craft,
            by_hazard=by_hazard,
            lived_in=frozenset({each.space for each in craft.values()} | set(batteries)),
            sensors=frozenset(sensor.name for sensor in yard.sensors),
        )

    def observe_cause(
        self,
        definition: Definition,
        alarms: Mapping[WatchKey, Alarm],
        watches: Mapping[WatchKey, Watch],
    ) -> Iterator[Observation]:
        """All subjects of one cause that hold, or that an alarm or a watch remembers."""
        judged = self.by_hazard[definition.hazard]
        keys = {key for key in (*alarms, *watches) if key.cause == definition.cause}
        for place, assessment in judged.items():
            key = _key(definition, place)
            known = key in keys
            keys.discard(key)
            alarm = alarms.get(key)
            active = alarm is not None and alarm.state is not AlarmState.RETURNED
            proven = self._proven(key)
            condition = cause_holds(definition, assessment, active=active, proven=proven)
            if condition and not active and definition.cause == "silence-urgent":
                condition = not self._heard_beside(assessment)
            if known or condition:
                yield self._seen(definition, key, assessment, condition, alarms)
        for key in keys:  # no longer judged at all
            # Of the yard itself only what is wrong is judged: nothing said is nothing wrong.
            right = key.space == self.yard.id or definition.hazard in ONLY_WRONG
            condition = False if right else None
            yield self._seen(definition, key, None, condition, alarms)

    def _seen(
        self,
        definition: Definition,
        key: WatchKey,
        assessment: Assessment | None,
        condition: bool | None,
        alarms: Mapping[WatchKey, Alarm],
    ) -> Observation:
        craft = self.craft.get(key.craft)
        space = key.space
        if not space:
            space = assessment.subject.space if assessment else craft.space if craft else ""
        return Observation(
            key=key,
            space=space,
            condition=condition,
            headline=self._headline(key, space, assessment, condition),
            priority=priority_of(definition, assessment),
            assessment=assessment,
            suppressed=self._suppressed(definition, key, space, alarms),
            gone=self._gone(definition, key, assessment),
        )

    def _suppressed(
        self,
        definition: Definition,
        key: WatchKey,
        space: str,
        alarms: Mapping[WatchKey, Alarm],
    ) -> str:
        """Why the design forbids this alarm now; empty where it does not."""
        if self._kind_of(space) in definition.not_in:
            return f"{definition.title} is no alarm in a space of this kind"
        if not key.craft and space not in self.lived_in and space != self.yard.id:
            return "the space is empty"
        for graver in GRAVER.get(definition.cause, ()):
            above = alarms.get(replace(key, cause=graver))
            if above is not None and above.state in ACTIVE:
                return f"it went on as {graver}"
        if whole := TOLD_FOR_ALL.get(definition.cause):
            above = alarms.get(WatchKey(cause=whole, craft="", space=space, part=""))
            if above is not None and above.state in ACTIVE:
                return f"it is told for the whole space, as {whole}"
        return ""

    def _gone(self, definition: Definition, key: WatchKey, assessment: Assessment | None) -> bool:
        if key.craft:
            craft = self.craft.get(key.craft)
            if craft is None:
                return True
            if definition.hazard in ONLY_WRONG:
                return False
            parts = {circuit.id for circuit in craft.circuits}
            parts |= {surface.id for surface in craft.surfaces}
            return assessment is None and not (
                key.part in parts or key.part in self.sensors or craft.battery is not None
            )
        if key.space == self.yard.id:
            return False
        if key.space not in {space.id for space in self.yard.spaces}:
            return True
        return assessment is None and bool(key.part) and key.part not in self.sensors

    def _proven(self, key: WatchKey) -> bool:
        craft = self.craft.get(key.craft)
        protection = craft.protection.get(key.part) if craft is not None else None
        return protection is not None and protection.state is LayupState.PROVEN

    def _heard_beside(self, silent: Assessment) -> bool:
        """Whether another sensor of the same air is still heard: then the space is not blind."""
        own = self._sensor(silent.subject.part)
        if own is None or own.mount is not Mount.AIR:
            return False
        # One that stays in place of following the air, or sends what cannot be, is no other.
        air = self.by_hazard[Hazard.AIR].get(("", own.space, ""))
        if air is not None and air.standing is Standing.NOT_KNOWN:
            return False
        return any(
            _tells_temperature(each)
            and (beside := self._sensor(each.subject.part)) is not None
            and beside.mount is Mount.AIR
            and beside.space == own.space
            for each in self.by_hazard[Hazard.SILENCE].values()
        )

    def _sensor(self, name: str) -> Sensor | None:
        return next((each for each in self.yard.sensors if each.name == name), None)

    def _kind_of(self, space: str) -> object:
        for each in self.yard.spaces:
            if each.id == space:
                return each.kind
        return None

    def _headline(
        self,
        key: WatchKey,
        space: str,
        assessment: Assessment | None,
        condition: bool | None,
    ) -> HeadlineFacts:
        """What the alarm's one line tells."""
        craft = self.craft.get(key.craft)
        who = plain(craft.name) if craft else plain(key.craft) or space_name(self.yard, space)
        part = part_name(craft, key.part)
        subject = f"{who}, {part}" if part else who
        if condition is None:
            return HeadlineFacts(subject=subject, blind=_blindness(assessment))
        if assessment is None:
            return HeadlineFacts(subject=subject)
        frost, deadline = assessment.hazard is Hazard.FROST, assessment.deadline
        if isinstance(assessment.facts, FrostFacts) and assessment.facts.ice_is_assumed:
            deadline = None  # an hour since which there may be ice is neither "since" nor "by"
        return HeadlineFacts(
            subject=subject,
            ahead=assessment.standing is Standing.DEW_AHEAD,
            past=assessment.standing is Standing.SUSPECT,
            deadline=deadline,
            begun=frost and deadline is not None and deadline <= assessment.at,
            low_c=_known(assessment.low_c),
            ice_point_c=_known(assessment.limit_c) if frost else None,
        )


def cause_holds(
    definition: Definition, assessment: Assessment, *, active: bool, proven: bool
) -> bool | None:
    """Whether a judgement is a cause of alarm; None where nobody can tell.

    Parameters
    ----------
    definition : Definition
    assessment : Assessment
    active : bool
        An alarm stands already, so that its deadband counts.
    proven : bool
        There is evidence of what the subject can stand.
    """
    standing = assessment.standing
    if _is_other_ice(definition, assessment):
        return False
    unproven = standing in definition.if_unproven and assessment.calls_for_act and not proven
    if standing in definition.standings or unproven:
        return active or definition.urgencies is None or assessment.urgency in definition.urgencies
    within_deadband = _is_within_deadband(definition, assessment)
    if within_deadband is None:
        # Of a battery whose charge alone is not known, the room that is left at its worst is.
        return None if standing is Standing.NOT_KNOWN else False
    return active and within_deadband


def _is_within_deadband(definition: Definition, assessment: Assessment) -> bool | None:
    """Whether the room left is too little to clear an alarm; None where there is no such limit."""
    limit_k, room_k = definition.clears_above_k, assessment.margin_k
    return None if limit_k is None or isnan(room_k) else room_k < limit_k


def _is_other_ice(definition: Definition, assessment: Assessment) -> bool:
    """Whether a cause is of ice in a mix and the ice is of water, or the other way round."""
    if definition.in_a_mix is None or assessment.standing is Standing.NOT_KNOWN:
        return False
    return definition.in_a_mix is not _in_a_mix(assessment)


def _in_a_mix(assessment: Assessment) -> bool:
    """Whether the ice that is or was there is ice of a mix, and none of it of water."""
    ice = past_ice_of(assessment.facts)
    return ice.as_mix_at is not None and ice.as_water_at is None


def _blindness(assessment: Assessment | None) -> Blindness:
    """Why nobody can tell whether an alarm's cause holds."""
    heard = (
        assessment is not None
        and isinstance(assessment.facts, BatteryFacts)
        and isfinite(assessment.facts.voltage_v)
    )
    return Blindness.CHARGE_NOT_TOLD if heard else Blindness.NO_READING


def _known(value_c: float) -> float | None:
    """A temperature as fine as it is told in any unit; None where it is not known."""
    return None if isnan(value_c) else round(value_c, 3)


def _tells_temperature(silence: Assessment) -> bool:
    """Whether a sensor is heard, or has stopped sending no more than another channel."""
    facts = silence.facts
    other = isinstance(facts, SilenceFacts) and facts.channel not in {None, Channel.TEMPERATURE}
    return silence.standing in _HEARD or other


def _place(assessment: Assessment) -> tuple[str, str, str]:
    """Where a judgement belongs: a craft's own wherever the craft stands."""
    subject = assessment.subject
    return (subject.craft, "" if subject.craft else subject.space, subject.part)


def _key(definition: Definition, place: tuple[str, str, str]) -> WatchKey:
    craft, space, part = place
    return WatchKey(cause=definition.cause, craft=craft, space=space, part=part)
