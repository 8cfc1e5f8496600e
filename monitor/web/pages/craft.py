"""One craft's page: what is left to do, what it holds, its nights, its record.

Everything is read for this craft alone, so that the page costs the same however many the yard has.
"""

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.craft.craft_stays import Craft, Stay
from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.plan.step import JobPlan
from monitor.craft.profile import Profile
from monitor.craft.record import CraftRecord, layup_plan, stored_craft
from monitor.craft.spring_progress import SpringProgress, spring_progress
from monitor.craft.stored import StoredCraft
from monitor.phrases.craft_tonight import craft_sentences, has_ice, is_pressing
from monitor.phrases.judgements import act_text
from monitor.phrases.names import ALARM_STATE, Names, judged_part_name, plain
from monitor.phrases.standings import is_well
from monitor.phrases.step_in_words import CircuitNames, capitalize_first
from monitor.reports.craft_nights import (
    PastNight,
    past_nights,
    read_craft_course,
    weakest_circuit,
)
from monitor.reports.picture import CraftPicture, compose_craft_picture
from monitor.reports.record_events import WorkTold, newest_first, record_events
from monitor.reports.sentences import OLD_AFTER, judged_long_ago
from monitor.store.store import Store, Transaction
from monitor.store.told_alarms import Telling
from monitor.web.night_chart import NightChart
from monitor.web.pages.circuit_rows import AlikeCircuits, CircuitRow, circuit_rows, group_alike
from monitor.web.pages.craft_chart import craft_chart
from monitor.wording import Wording
from monitor.yard.alarm import Alarm, AlarmEvent
from monitor.yard.assessment import Assessment, Caution, Hazard, Standing
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.readers import wording_for_store, words_for
from monitor.yard.space import Person, Yard, shelters

_NIGHTS = timedelta(days=14)
_STEPS_APART = 3  # from so many on, an act is a list


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmTold:
    """One alarm with all that became of it."""

    alarm: Alarm
    events: tuple[AlarmEvent, ...]
    told: tuple[Telling, ...] = ()  # the yard's people, in order of time


@dataclass(frozen=True, slots=True, kw_only=True)
class CraftPage:
    """What the template shows. ``picture`` and ``plan`` are None while it is not in the yard."""

    yard: Yard
    record: CraftRecord
    wording: Wording
    names: Names
    picture: CraftPicture | None
    judged_at: datetime | None
    warning: str  # that it was judged long ago
    tonight: str
    do_not_start: bool
    tonights_act: Assessment | None  # what the letters ask for before this night's ice
    tonights_steps: tuple[str, ...]  # the same, a step each
    also_tonight: tuple[str, ...]  # what else of it asks for somebody this night, but its battery
    plan: JobPlan | None  # for the winter
    spring: SpringProgress | None  # once its first step is ticked off
    circuit_names: CircuitNames
    cautions: tuple[str, ...]
    circuits: tuple[CircuitRow, ...]
    alike: tuple[AlikeCircuits, ...]  # the same circuits, those that are alike together
    damp: tuple[Assessment, ...]  # surfaces that are not dry
    chart: NightChart | None
    chart_note: str
    nights: tuple[PastNight, ...]
    weakest: str  # its name; empty: nothing of it can freeze
    is_probed: bool
    work: tuple[WorkTold, ...]
    stays: tuple[Stay, ...]  # the newest first
    alarms: tuple[AlarmTold, ...]  # the newest first

    @property
    def craft(self) -> Craft:
        """The craft itself."""
        return self.record.craft

    @property
    def alarms_told(self) -> str:
        """How many alarms there were of it, and how many are in which state now."""
        states = Counter(ALARM_STATE[told.alarm.state] for told in self.alarms)
        said = ", ".join(f"{count} {state}" for state, count in states.most_common())
        return f"{len(self.alarms)} alarm{'s' * (len(self.alarms) != 1)}: {said}"

    @property
    def profile(self) -> Profile:
        """Its type."""
        return self.record.profile


def read_craft_page(
    store: Store,
    yard: Yard,
    profiles: Mapping[str, Profile],
    craft_id: str,
    now: datetime,
    reader: Person | None = None,
    old_after: timedelta = OLD_AFTER,
) -> CraftPage | None:
    """Read one steady state of the store and lay the page out; None if there is no such craft."""
    words = words_for(yard, now, reader)
    with store.snapshot() as tx:
        record = tx.layup.record_of(craft_id, profiles)
        if record is None:
            return None
        links = tx.layup.links_of(craft_id)
        here = stored_craft(record, shelters(yard), now, wording_for_store(yard, now))
        spaces = [space.id for space in yard.spaces]
        judged = tx.assessments.latest_in(spaces, craft_id)
        picture = None if here is None else compose_craft_picture(here, judged, now)
        air = None if here is None else _air_of(tx, here.space)
        weakest = None if picture is None else weakest_circuit(picture.circuits)
        course = read_craft_course(tx, yard, record.stays, weakest, now - _NIGHTS, now)
        alarms = tx.alarms.of_craft(craft_id)
        histories = tx.alarms.histories_of([each.id for each in alarms])
        tellings = tx.told_alarms.tellings_of_each([each.id for each in alarms])
    judged_at = max((each.at for each in judged), default=None)
    circuits = () if picture is None else picture.circuits
    others = [each for each in judged if each.hazard is not Hazard.FROST]
    plan = _plan_of(record, yard, now) if here is not None else None
    chart, note = craft_chart(course, air, weakest, here, words)
    events = record_events(record, links, now)
    names = Names.of(yard, [] if here is None else [here])
    act = _tonights_act(circuits)
    rows = circuit_rows(here, circuits)
    return CraftPage(
        yard=yard,
        record=record,
        wording=words,
        names=names,
        picture=picture,
        judged_at=judged_at,
        warning=judged_long_ago(judged_at, words, old_after),
        tonight="" if here is None else craft_sentences(circuits, others, here, words),
        do_not_start=has_ice(circuits),
        tonights_act=act,
        tonights_steps=() if act is None else steps_of_text(act_text(act, names, words)),
        also_tonight=tuple(_also_tonight(others, names, words)),
        plan=plan,
        spring=_spring_of(record, yard, now) if here is not None else None,
        circuit_names=CircuitNames.of_profile(record.profile),
        cautions=tuple(_cautions(plan, circuits, words)),
        circuits=tuple(rows),
        alike=group_alike(rows),
        damp=_damp_of(picture),
        chart=chart,
        chart_note=note,
        nights=tuple(past_nights(course, record.stays, yard, now)),
        weakest=_name_of(weakest, here),
        is_probed=course.is_probed,
        work=tuple(newest_first(events)),
        stays=_stays_until(record, now),
        alarms=tuple(
            AlarmTold(
                alarm=each,
                events=tuple(histories[each.id]),
                told=tuple(tellings[each.id]),
            )
            for each in alarms[::-1]
        ),
    )


def _tonights_act(circuits: Sequence[Assessment]) -> Assessment | None:
    """The worst circuit whose act is to be done before ice that this night may bring."""
    asked = (a for a in circuits if a.calls_for_act and a.standing is Standing.EXPOSED)
    return next(asked, None)


def steps_of_text(text: str) -> tuple[str, ...]:
    """An act of many steps, a sentence each, as a person ticks them off; else the act as it is."""
    parts = re.split("; (?!milky)", text.rstrip("."))
    if len(parts) < _STEPS_APART:
        return (text,)
    return tuple(f"{capitalize_first(part.removeprefix('then '))}." for part in parts)


def _also_tonight(others: Iterable[Assessment], names: Names, words: Wording) -> Iterable[str]:
    """Acts that this night asks for beside the frost's, each once; the battery has its own part."""
    asked = (a for a in others if is_pressing(a) and a.hazard is not Hazard.BATTERY)
    return dict.fromkeys(filter(None, (act_text(a, names, words) for a in asked)))


def _stays_until(record: CraftRecord, now: datetime) -> tuple[Stay, ...]:
    """Where it stood until now, the newest first."""
    return tuple(sorted((s for s in record.stays if s.since <= now), key=_since, reverse=True))


def _name_of(weakest: Assessment | None, here: StoredCraft | None) -> str:
    return "" if weakest is None else plain(judged_part_name(weakest, here))


def _damp_of(picture: CraftPicture | None) -> tuple[Assessment, ...]:
    """Surfaces that are not dry."""
    return tuple(each for each in picture.surfaces if not is_well(each)) if picture else ()


def _since(stay: Stay) -> datetime:
    return stay.since


def _air_of(tx: Transaction, space: str) -> Assessment | None:
    own = tx.assessments.latest_in([space], "")
    return next((a for a in own if a.hazard is Hazard.AIR and not a.subject.part), None)


def _plan_of(record: CraftRecord, yard: Yard, now: datetime) -> JobPlan:
    shelf = yard.shelf or USUAL_SHELF
    return layup_plan(record, shelters(yard), now, yard.design_low_c, shelf)


def _spring_of(record: CraftRecord, yard: Yard, now: datetime) -> SpringProgress | None:
    """How far it is on its way back into the water; None while nobody has begun."""
    if all(one.readied is None for one in record.standing(now)):
        return None
    found = spring_progress(record, shelters(yard), now)
    return found if found.begun_at is not None else None


def _cautions(plan: JobPlan | None, circuits: Sequence[Assessment], words: Wording) -> list[str]:
    """The cautions that the plan and the judgements call for, whole, each once."""
    asked = {str(care) for step in plan.steps for care in step.cautions} if plan else set()
    asked |= {str(each) for seen in circuits for each in seen.cautions}
    return [
        words.in_reader_units(CAUTION_TEXT[each])
        for each in Caution
        if str(each) in asked and each is not Caution.NOT_LIFE_SAFETY
    ]
