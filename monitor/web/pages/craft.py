"""One craft's page: what is left to do, what it holds, its nights, its record.

Everything is read for this craft alone, so that the page costs the same however many the yard has.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from monitor.craft.circuit import Circuit
from monitor.craft.craft_stays import Craft, Stay
from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.plan.step import JobPlan
from monitor.craft.profile import Profile
from monitor.craft.protection import Protection
from monitor.craft.record import CraftRecord, layup_plan, stored_craft
from monitor.craft.stored import StoredCraft
from monitor.phrases.craft_tonight import craft_sentences, has_ice
from monitor.phrases.names import Names, judged_part_name, plain
from monitor.phrases.standings import is_well
from monitor.phrases.step_in_words import CircuitNames
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
from monitor.web.night_chart import NightChart
from monitor.web.pages.craft_chart import craft_chart
from monitor.wording import Wording
from monitor.yard.alarm import Alarm, AlarmEvent
from monitor.yard.assessment import Assessment, Caution, Hazard, Standing
from monitor.yard.caution import CAUTION_TEXT
from monitor.yard.readers import wording_for_store, words_for
from monitor.yard.space import Person, Yard, shelters

_NIGHTS = timedelta(days=14)


@dataclass(frozen=True, slots=True, kw_only=True)
class CircuitRow:
    """One circuit: what it holds by the record, and how it stands tonight."""

    circuit: Circuit
    held: Protection
    seen: Assessment


@dataclass(frozen=True, slots=True, kw_only=True)
class AlarmTold:
    """One alarm with all that became of it."""

    alarm: Alarm
    events: tuple[AlarmEvent, ...]


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
    plan: JobPlan | None  # for the winter
    circuit_names: CircuitNames
    cautions: tuple[str, ...]
    circuits: tuple[CircuitRow, ...]
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
    judged_at = max((each.at for each in judged), default=None)
    circuits = () if picture is None else picture.circuits
    others = [each for each in judged if each.hazard is not Hazard.FROST]
    plan = _plan_of(record, yard, now) if here is not None else None
    chart, note = craft_chart(course, air, weakest, here, words)
    events = record_events(record, links, now)
    return CraftPage(
        yard=yard,
        record=record,
        wording=words,
        names=Names.of(yard, [] if here is None else [here]),
        picture=picture,
        judged_at=judged_at,
        warning=judged_long_ago(judged_at, words, old_after),
        tonight="" if here is None else craft_sentences(circuits, others, here, words),
        do_not_start=has_ice(circuits),
        tonights_act=_tonights_act(circuits),
        plan=plan,
        circuit_names=CircuitNames.of_profile(record.profile),
        cautions=tuple(_cautions(plan, circuits, words)),
        circuits=tuple(_circuit_rows(here, circuits)),
        damp=_damp_of(picture),
        chart=chart,
        chart_note=note,
        nights=tuple(past_nights(course, record.stays, yard, now)),
        weakest=_name_of(weakest, here),
        is_probed=course.is_probed,
        work=tuple(newest_first(events)),
        stays=_stays_until(record, now),
        alarms=tuple(
            AlarmTold(alarm=each, events=tuple(histories[each.id])) for each in alarms[::-1]
        ),
    )


def _tonights_act(circuits: Sequence[Assessment]) -> Assessment | None:
    """The worst circuit whose act is to be done before ice that this night may bring."""
    asked = (a for a in circuits if a.calls_for_act and a.standing is Standing.EXPOSED)
    return next(asked, None)


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


def _circuit_rows(here: StoredCraft | None, circuits: Sequence[Assessment]) -> list[CircuitRow]:
    """Every circuit, the worst first."""
    if here is None:
        return []
    by_id = {one.id: one for one in here.circuits}
    return [
        CircuitRow(
            circuit=by_id[seen.subject.part], held=here.protection[seen.subject.part], seen=seen
        )
        for seen in circuits
    ]


def _cautions(plan: JobPlan | None, circuits: Sequence[Assessment], words: Wording) -> list[str]:
    """The cautions that the plan and the judgements call for, whole, each once."""
    asked = {str(care) for step in plan.steps for care in step.cautions} if plan else set()
    asked |= {str(each) for seen in circuits for each in seen.cautions}
    return [
        words.in_reader_units(CAUTION_TEXT[each])
        for each in Caution
        if str(each) in asked and each is not Caution.NOT_LIFE_SAFETY
    ]
