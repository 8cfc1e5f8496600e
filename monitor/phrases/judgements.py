"""A judgement in words: what it rests on, and what a person should do, for one reader."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, get_args

from monitor.phrases import (
    air,
    battery,
    damp,
    frost,
    intake_faults,
    own_condition,
    record,
    watch,
)
from monitor.phrases.frost_act import frost_act_text, steps_of_act
from monitor.phrases.names import Names
from monitor.phrases.short_job import short_job, short_job_if_it_runs
from monitor.phrases.step_in_words import CircuitNames, capitalize_first
from monitor.wording import Wording, typeset
from monitor.yard.air_facts import AirFacts, UnreadFacts
from monitor.yard.assessment import Assessment
from monitor.yard.battery_facts import BatteryFacts
from monitor.yard.damp_facts import DampFacts, WetDayFacts
from monitor.yard.facts import (
    ChargingFacts,
    DamageFacts,
    DoubtFacts,
    DropFacts,
    EarlierSentences,
    Facts,
    ForecastFacts,
    ForeignFacts,
    NotTakenInFacts,
    OwnClockFacts,
    PathFacts,
    PowerFacts,
    RecordFacts,
    RewrittenFacts,
    RoomFacts,
    SensingFacts,
    SensorBatteryFacts,
    SilenceFacts,
)
from monitor.yard.frost_facts import FrostFacts, Occasion, UnreadFrostFacts


def basis_text(seen: Assessment, names: Names, words: Wording) -> str:
    """What a judgement rests on, in a reader's units and by the yard's clock."""
    return _set_for_reader(_words_of(seen).basis(seen.facts, seen, names, words), words)


def act_text(seen: Assessment, names: Names, words: Wording) -> str:
    """What a person should do about a judgement; empty where it calls for nothing."""
    if not seen.calls_for_act:
        return ""
    return _set_for_reader(_words_of(seen).act(seen.facts, seen, names, words), words)


def short_act_text(seen: Assessment, names: Names, words: Wording) -> str:
    """The same for a line in a list: of a craft's whole job a few words for each kind of work."""
    facts = seen.facts
    act = facts.act if isinstance(facts, FrostFacts) else None
    if isinstance(facts, RecordFacts):  # the act itself; what else to enter stands on its page
        return f"{act_text(seen, names, words).partition('. ')[0].rstrip('.')}."
    if act is None or not act.steps or act.occasion is Occasion.AFTER_ICE:
        return act_text(seen, names, words)
    steps = steps_of_act(act, seen.subject.part)
    circuits = CircuitNames.of_craft(names.craft.get(seen.subject.craft))
    say = short_job_if_it_runs if act.occasion is Occasion.IF_IT_RUNS else short_job
    return f"{capitalize_first(say(steps, circuits, words, _SHORT_WORDS))}."


_SHORT_WORDS = 18
_Say = Callable[[Any, Assessment, Names, Wording], str]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Words:
    """How facts of one form are said: what a judgement rests on, and what to do about it."""

    basis: _Say
    act: _Say


_WORDS_OF: Mapping[type, _Words] = {
    EarlierSentences: _Words(
        basis=lambda facts, _s, _n, _w: facts.basis,
        act=lambda facts, _s, _n, _w: facts.act,
    ),
    AirFacts: _Words(basis=air.air_basis, act=air.air_act),
    FrostFacts: _Words(
        basis=frost.frost_basis,
        act=frost_act_text,
    ),
    UnreadFrostFacts: _Words(
        basis=lambda facts, seen, names, _w: frost.unread_frost_basis(facts, seen, names),
        act=lambda _f, seen, names, _w: air.unread_act(seen.subject, names),
    ),
    UnreadFacts: _Words(
        basis=lambda facts, seen, names, _w: air.unread_basis(facts, seen, names),
        act=lambda facts, seen, names, _w: (
            damp.PUMP_BILGE if facts.bilge_wet else air.unread_act(seen.subject, names)
        ),
    ),
    SilenceFacts: _Words(
        basis=watch.silence_basis,
        act=lambda facts, seen, names, _w: watch.silence_act(facts, seen.subject, names),
    ),
    SensorBatteryFacts: _Words(
        basis=watch.sensor_battery_basis,
        act=lambda _f, seen, names, _w: watch.sensor_battery_act(seen.subject, names),
    ),
    PowerFacts: _Words(
        basis=watch.power_basis,
        act=lambda _f, seen, names, _w: watch.power_act(seen.subject, names),
    ),
    SensingFacts: _Words(
        basis=watch.sensing_basis,
        act=lambda _f, seen, names, _w: watch.sensing_act(seen.subject, names),
    ),
    DoubtFacts: _Words(
        basis=watch.doubt_basis,
        act=lambda facts, seen, names, _w: watch.doubt_act(facts, seen.subject, names),
    ),
    ForecastFacts: _Words(
        basis=lambda facts, seen, _n, _w: watch.forecast_basis(facts, seen),
        act=lambda _f, _s, _n, _w: watch.forecast_act(),
    ),
    PathFacts: _Words(
        basis=lambda facts, _s, _n, words: watch.path_basis(facts, words),
        act=lambda facts, _s, _n, _w: watch.path_act(facts),
    ),
    OwnClockFacts: _Words(
        basis=lambda facts, _s, _n, words: intake_faults.own_clock_basis(facts, words),
        act=lambda _f, _s, _n, _w: intake_faults.own_clock_act(),
    ),
    DropFacts: _Words(
        basis=lambda facts, _s, _n, words: intake_faults.drop_basis(facts, words),
        act=lambda facts, _s, _n, _w: intake_faults.drop_act(facts),
    ),
    ForeignFacts: _Words(
        basis=lambda facts, _s, _n, words: intake_faults.foreign_basis(facts, words),
        act=lambda _f, _s, _n, _w: intake_faults.foreign_act(),
    ),
    RoomFacts: _Words(
        basis=lambda facts, _s, _n, words: own_condition.room_basis(facts, words),
        act=lambda _f, _s, _n, _w: own_condition.MAKE_ROOM,
    ),
    DamageFacts: _Words(
        basis=lambda facts, _s, _n, _w: own_condition.damage_basis(facts),
        act=lambda _f, _s, _n, _w: own_condition.MEND,
    ),
    NotTakenInFacts: _Words(
        basis=lambda facts, _s, _n, _w: record.not_taken_in_basis(facts),
        act=lambda _f, _s, _n, _w: record.not_taken_in_act(),
    ),
    RewrittenFacts: _Words(
        basis=lambda facts, _s, _n, _w: own_condition.rewritten_basis(facts),
        act=lambda _f, _s, _n, _w: own_condition.COMPARE,
    ),
    RecordFacts: _Words(
        basis=record.record_basis,
        act=lambda facts, seen, names, _w: record.record_act(facts, seen.subject, names),
    ),
    BatteryFacts: _Words(
        basis=battery.battery_basis,
        act=lambda facts, seen, _n, words: battery.battery_act(facts, seen, words),
    ),
    ChargingFacts: _Words(
        basis=battery.charging_basis,
        act=lambda _f, _s, _n, _w: battery.charging_act(),
    ),
    DampFacts: _Words(basis=damp.damp_basis, act=damp.damp_act),
    WetDayFacts: _Words(
        basis=damp.wet_day_basis,
        act=lambda _f, seen, names, _w: damp.wet_day_act(seen.subject, names),
    ),
}
for _form in set(get_args(Facts)) ^ _WORDS_OF.keys():
    raise TypeError(f"{_form.__name__}: has no words among the judgements, or is no form of facts")


def _words_of(seen: Assessment) -> _Words:
    return _WORDS_OF[type(seen.facts)]


def _set_for_reader(text: str, words: Wording) -> str:
    """Sentences with the first letter large, and the record's own quantities in reader's units."""
    said = words.in_reader_units(text)
    if words.units is not None and not words.units.data:
        said = typeset(said)
    return said[:1].upper() + said[1:]
