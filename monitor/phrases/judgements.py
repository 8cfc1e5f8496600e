"""A judgement in words: what it rests on, and what a person should do, for one reader."""

from monitor.phrases import (
    air,
    battery,
    damp,
    frost,
    intake_faults,
    record,
    store_condition,
    watch,
)
from monitor.phrases.names import Names
from monitor.typeset import typeset
from monitor.wording import Wording
from monitor.yard.air_facts import AirFacts, UnreadFacts
from monitor.yard.assessment import Assessment
from monitor.yard.battery_facts import BatteryFacts
from monitor.yard.damp_facts import DampFacts
from monitor.yard.facts import (
    ChargingFacts,
    DamageFacts,
    DoubtFacts,
    DropFacts,
    ForecastFacts,
    OwnClockFacts,
    PathFacts,
    PowerFacts,
    RecordFacts,
    RoomFacts,
    SensingFacts,
    SilenceFacts,
    WetDayFacts,
    WrittenText,
)
from monitor.yard.frost_facts import FrostFacts, UnreadFrostFacts


def basis_text(seen: Assessment, names: Names, words: Wording) -> str:
    """What a judgement rests on, in a reader's units and by the yard's clock."""
    return _set_for_reader(_basis(seen, names, words), words)


def act_text(seen: Assessment, names: Names, words: Wording) -> str:
    """What a person should do about a judgement; empty where it calls for nothing."""
    return _set_for_reader(_act(seen, names, words), words) if seen.calls_for_act else ""


def _basis(seen: Assessment, names: Names, words: Wording) -> str:
    subject = seen.subject
    match seen.facts:
        case WrittenText(basis=text):
            return text
        case AirFacts() as facts:
            return air.air_basis(facts, seen, names, words)
        case FrostFacts() as facts:
            return frost.frost_basis(facts, seen, names, words)
        case UnreadFrostFacts() as facts:
            return frost.unread_frost_basis(facts, seen, names)
        case UnreadFacts() as facts:
            return air.unread_basis(facts, seen, names)
        case SilenceFacts() as facts:
            return watch.silence_basis(facts, subject, names, words)
        case PowerFacts() as facts:
            return watch.power_basis(facts, subject, names, words)
        case SensingFacts() as facts:
            return watch.sensing_basis(facts, subject, names, words)
        case DoubtFacts() as facts:
            return watch.doubt_basis(facts, subject, names, words)
        case ForecastFacts() as facts:
            return watch.forecast_basis(facts, seen)
        case PathFacts() as facts:
            return watch.path_basis(facts, words)
        case OwnClockFacts() as facts:
            return intake_faults.own_clock_basis(facts, words)
        case DropFacts() as facts:
            return intake_faults.drop_basis(facts, words)
        case RoomFacts() as facts:
            return store_condition.room_basis(facts, words)
        case DamageFacts() as facts:
            return store_condition.damage_basis(facts)
        case RecordFacts() as facts:
            return record.record_basis(facts, subject, names, words)
        case BatteryFacts() as facts:
            return battery.battery_basis(facts, seen, names, words)
        case ChargingFacts() as facts:
            return battery.charging_basis(facts, subject, names, words)
        case DampFacts() as facts:
            return damp.damp_basis(facts, seen, names, words)
        case WetDayFacts() as facts:
            return damp.wet_day_basis(facts, subject, names, words)


def _act(seen: Assessment, names: Names, words: Wording) -> str:
    subject = seen.subject
    match seen.facts:
        case WrittenText(act=text):
            return text
        case AirFacts() as facts:
            return air.air_act(facts, seen, names, words)
        case FrostFacts(act=text):
            return text
        case UnreadFacts() | UnreadFrostFacts():
            return air.unread_act(subject, names)
        case SilenceFacts() as facts:
            return watch.silence_act(facts, subject)
        case PowerFacts():
            return watch.power_act(subject, names)
        case SensingFacts():
            return watch.sensing_act(subject, names)
        case DoubtFacts() as facts:
            return watch.doubt_act(facts, subject, names)
        case ForecastFacts():
            return watch.forecast_act()
        case PathFacts() as facts:
            return watch.path_act(facts)
        case OwnClockFacts():
            return intake_faults.own_clock_act()
        case DropFacts() as facts:
            return intake_faults.drop_act(facts)
        case RoomFacts():
            return store_condition.MAKE_ROOM
        case DamageFacts():
            return store_condition.MEND
        case RecordFacts() as facts:
            return record.record_act(facts, subject, names)
        case BatteryFacts() as facts:
            return battery.battery_act(facts, seen, words)
        case ChargingFacts():
            return battery.charging_act()
        case DampFacts() as facts:
            return damp.damp_act(facts, seen, names, words)
        case WetDayFacts():
            return damp.wet_day_act(subject, names)


def _set_for_reader(text: str, words: Wording) -> str:
    """Sentences with the first letter large, and the record's own quantities in reader's units."""
    said = words.told(text)
    if words.units is not None and not words.units.data:
        said = typeset(said)
    # A sensor's own name keeps its letters.
    return said if said.startswith("urn:") else said[:1].upper() + said[1:]
