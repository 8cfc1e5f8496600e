"""A fictional yard of twelve craft on the eve of its first hard night, in a real store file.

Kettlemoss Yard, Lake Ossawin, exists nowhere. Its judgements are written by hand: pages, mails and
commands are tested here, not the judging.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import inf, nan
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from monitor.clock import to_ms
from monitor.craft.circuit import Circuit, Drainage
from monitor.craft.profile import Chemistry, Surface
from monitor.craft.protection import Basis, LayupState, Protection, plain_water
from monitor.craft.stored import Battery, BatteryPlace, StoredCraft
from monitor.store.reading_rows import ReadingRow
from monitor.store.store import Store
from monitor.yard.alarm import Alarm, AlarmEvent, AlarmState, Priority
from monitor.yard.alarm_facts import FinishedLine
from monitor.yard.assessment import (
    Assessment,
    Caution,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.reading import Channel, Flag
from monitor.yard.space import Mount, Person, Role, Sensor, Space, SpaceKind, Yard
from tests.real.stores import scene_url
from tests.written import written

ZONE = ZoneInfo("America/Chicago")
AT = datetime(2026, 11, 14, 16, 0, tzinfo=ZONE)
MONDAY = datetime(2026, 11, 9, tzinfo=ZONE)

_SPACES = (
    Space(id="stove-barn", name="Stove Barn", kind=SpaceKind.HEATED, berths=("B1", "B2")),
    Space(id="long-shed", name="Long Shed", kind=SpaceKind.COLD, berths=("S1", "S2", "S3")),
    Space(id="north-row", name="North Row", kind=SpaceKind.WRAPPED),
    Space(id="lee-rack", name="Lee Rack", kind=SpaceKind.OPEN),
    Space(id="bench", name="Bench", kind=SpaceKind.BENCH),
)
_LABELS = {"t": Channel.TEMPERATURE, "rh": Channel.HUMIDITY}

SEEN = FinishedLine(text="seen")


def at(hour: int, minute: int = 0, day: int = 14) -> datetime:
    """A time in the night of 14 November, by the yard's clock."""
    return datetime(2026, 11, day, hour, minute, tzinfo=ZONE)


def yard(**changes: object) -> Yard:
    """The yard: five spaces, an air sensor in each, an operator, a mechanic and two owners."""
    staff = frozenset({Role.OPERATOR})
    facts: dict[str, object] = {
        "id": "kettlemoss",
        "name": "Kettlemoss Yard",
        "zone": ZONE,
        "latitude": 46.1,
        "longitude": -92.3,
        "temperature_unit": "C",
        "volume_unit": "fl oz",
        "spaces": _SPACES,
        "sensors": tuple(
            Sensor(
                name=f"urn:dev:ops:kettlemoss-{space.id}",
                space=space.id,
                mount=Mount.AIR,
                labels=_LABELS,
                interval_s=600.0,
            )
            for space in _SPACES
        ),
        "people": (
            Person(id="ines", name="Ines Marrow", mail="ines@kettlemoss.example", roles=staff),
            Person(
                id="tobin",
                name="Tobin Ashby",
                mail="tobin@lake.example",
                roles=frozenset({Role.OWNER}),
                temperature_unit="F",
            ),
            Person(
                id="wren",
                name="Wren Halloway",
                mail="wren@lake.example",
                roles=frozenset({Role.OWNER}),
            ),
        ),
    }
    return Yard(**(facts | changes))  # type: ignore[arg-type]


@dataclass(frozen=True)
class _Row:
    """One circuit as the tables below write it."""

    id: str
    name: str
    ice_c: float  # ice point; -inf: seen dry
    burst_c: float
    state: LayupState
    basis: Basis
    why: str
    low_c: float
    standing: Standing
    act: str = ""
    deadline: datetime | None = None
    ends: datetime | None = None
    cautions: tuple[Caution, ...] = ()


def _proven(id_: str, name: str, ice_c: float, low_c: float, why: str) -> _Row:
    return _Row(
        id_, name, ice_c, ice_c - 8, LayupState.PROVEN, Basis.MEASURED, why, low_c, Standing.HOLDING
    )


def _dry(id_: str, name: str, low_c: float, why: str) -> _Row:
    dry = (-inf, -inf, LayupState.PROVEN, Basis.DRAINED)
    return _Row(id_, name, *dry, why, low_c, Standing.HOLDING)


def _water(
    id_: str,
    name: str,
    state: LayupState,
    low_c: float,
    deadline: datetime | None,
    act: str,
    why: str,
    ends: datetime | None = None,
    standing: Standing = Standing.EXPOSED,
) -> _Row:
    basis = Basis.UNKNOWN if state is LayupState.UNKNOWN else Basis.NONE
    cautions = (Caution.GLYCOL, Caution.CARBON_MONOXIDE) if act else ()
    return _Row(
        id_, name, 0.0, 0.0, state, basis, why, low_c, standing, act, deadline, ends, cautions
    )


_CRAFT: tuple[tuple[str, str, str, str, str, str, tuple[_Row, ...]], ...] = (
    (
        "K1",
        "Teal",
        "pwc-two-stroke-open",
        "long-shed",
        "S1",
        "tobin",
        (
            _proven("cylinders", "cylinder passages", -30, -5.5, "outflow read −30 °C on 2 Nov"),
            _proven("water-box", "water box", -30, -4.8, "outflow read −30 °C on 2 Nov"),
        ),
    ),
    (
        "K2",
        "Plover",
        "pwc-two-stroke-open",
        "long-shed",
        "S2",
        "wren",
        (
            _water(
                "cylinders",
                "cylinder passages",
                LayupState.UNPROVEN,
                -5.5,
                at(1, 40, 15),
                "Drain the cylinder passages tonight, bow up, until nothing more comes.",
                "14 fl oz poured on 4 Nov, no outflow seen: the passage may be blocked and full.",
                at(5, 10, 15),
            ),
            _water(
                "water-box",
                "water box",
                LayupState.UNPROVEN,
                -4.8,
                at(3, 5, 15),
                "Take a reading of the water box, or pour again.",
                "12 fl oz poured and seen, but no reading taken.",
            ),
        ),
    ),
    (
        "K3",
        "Grebe",
        "pwc-four-stroke-closed",
        "north-row",
        "N1",
        "",
        (
            _Row(
                "raw-side",
                "raw-water side",
                -5.0,
                -9.5,
                LayupState.PROVEN,
                Basis.MEASURED,
                "sample read −5 °C on 6 Nov",
                -11.6,
                Standing.EXPOSED,
                "Treat the raw-water side again by dusk, with 50 % product.",
                at(23, 50),
                at(3, 40, 15),
                (Caution.GLYCOL,),
            ),
            _proven("coolant", "closed coolant loop", -37, -9.8, "tested −37 °C on 1 Nov"),
        ),
    ),
    (
        "K4",
        "Sora",
        "pwc-four-stroke-closed",
        "north-row",
        "N2",
        "",
        (
            _proven("raw-side", "raw-water side", -31, -11.6, "sample read −31 °C on 3 Nov"),
            _proven("coolant", "closed coolant loop", -37, -9.8, "tested −37 °C on 3 Nov"),
        ),
    ),
    (
        "K5",
        "Pintail",
        "jet-boat-twin",
        "lee-rack",
        "L1",
        "",
        (
            _proven("starboard", "starboard engine passages", -28, -12.7, "read −28 °C on 5 Nov"),
            _water(
                "port",
                "port engine passages",
                LayupState.UNKNOWN,
                -12.7,
                at(18, 55),
                "Drain the port engine now; treat it as never laid up.",
                "Nothing on record for the port engine.",
                at(21, 30),
            ),
        ),
    ),
    (
        "K6",
        "Coot",
        "outboard",
        "lee-rack",
        "L2",
        "wren",
        (
            _dry("powerhead", "powerhead and midsection", -12.7, "stood vertical, seen dry 30 Oct"),
            _dry("gearcase", "gearcase", -12.7, "lube changed and clear, 30 Oct"),
        ),
    ),
    (
        "K7",
        "Dipper",
        "outboard",
        "lee-rack",
        "L3",
        "",
        (
            _water(
                "gearcase",
                "gearcase",
                LayupState.UNPROVEN,
                -12.7,
                at(18, 55),
                "Lower the motor, drain the gearcase and the propeller hub.",
                "Lube came out milky on 8 Nov: water inside.",
            ),
            _dry("powerhead", "powerhead and midsection", -12.7, "seen dry 8 Nov"),
        ),
    ),
    (
        "K8",
        "Heron",
        "sterndrive-raw-water",
        "long-shed",
        "S3",
        "",
        (
            _water(
                "block",
                "block and heads",
                LayupState.UNPROVEN,
                -2.3,
                at(6, 48, 15),
                "Pull and probe every block drain before the next night.",
                "Pink seen at the exhaust of a cold engine, drains not pulled: the thermostat was"
                " shut.",
            ),
            _proven("manifolds", "manifolds and risers", -29, -4.1, "read −29 °C on 7 Nov"),
        ),
    ),
    (
        "K9",
        "Bittern",
        "tow-boat",
        "north-row",
        "N3",
        "",
        (
            _water(
                "washdown",
                "shower and washdown pumps",
                LayupState.UNKNOWN,
                -12.9,
                at(18, 20),
                "Open the taps and run the pumps dry.",
                "Nothing on record for shower and washdown.",
                at(19, 40),
            ),
            _proven("raw-side", "raw-water side", -29, -11.6, "read −29 °C on 7 Nov"),
            _dry("ballast", "ballast", -11.0, "pumped out and seen dry, 7 Nov"),
        ),
    ),
    (
        "K10",
        "Loon",
        "pwc-two-stroke-open",
        "stove-barn",
        "B1",
        "",
        (
            _water(
                "cylinders",
                "cylinder passages",
                LayupState.HEAT_ONLY,
                6.4,
                None,
                "",
                "Bought at auction, nothing on record: safe only while Stove Barn is warm.",
                standing=Standing.HOLDING,
            ),
        ),
    ),
    (
        "K11",
        "Osprey",
        "cuddy",
        "lee-rack",
        "L4",
        "tobin",
        (
            _water(
                "galley",
                "galley fittings",
                LayupState.VOID,
                -13.0,
                at(18, 15),
                "Back into Stove Barn, or drain the fittings, by 18:00.",
                "Was safe only in the heat and was moved out on 12 Nov.",
                at(19, 10),
            ),
        ),
    ),
    (
        "K12",
        "Killdeer",
        "pwc-two-stroke-open",
        "north-row",
        "N4",
        "",
        (
            _water(
                "cylinders",
                "cylinder passages",
                LayupState.VOID,
                -11.9,
                at(19, 20),
                "Drain again: bow up, hoses low end off.",
                "Read −30 °C on 1 Nov, then run on the hose on 9 Nov.",
                at(22, 5),
            ),
        ),
    ),
)


def craft() -> list[StoredCraft]:
    """The twelve craft as judgement sees them."""
    return [
        StoredCraft(
            id=id_,
            name=name,
            profile=profile,
            owner=owner,
            space=space,
            berth=berth,
            circuits=tuple(_circuit(row) for row in rows),
            protection={row.id: _protection(row) for row in rows},
            surfaces=(
                Surface(id="block", name="engine block", lag_low_h=2, lag_high_h=6, length_m=0.3),
            ),
            battery=Battery(
                chemistry=Chemistry.FLOODED,
                capacity_ah=18,
                lag_low_h=1.5,
                lag_high_h=3,
                place=BatteryPlace.ABOARD if id_ == "K4" else BatteryPlace.BENCH,
                space=space if id_ == "K4" else "bench",
                maintained=id_ != "K4",
            ),
        )
        for id_, name, profile, space, berth, owner, rows in _CRAFT
    ]


def assessments() -> list[Assessment]:
    """One round of judgements, 14 November 16:00."""
    judged = list(_air())
    for id_, _, _, space, _, _, rows in _CRAFT:
        judged += [_frost(space, id_, row) for row in rows]
        judged.append(
            Assessment(
                subject=Subject(space, id_, "block"),
                hazard=Hazard.DAMP,
                standing=Standing.DRY,
                at=AT,
                **written("The block stays above the dew point until tomorrow noon."),
                now_c=3.0,
                limit_c=-1.0,
                margin_k=4.0,
            )
        )
        judged.append(_battery(space, id_))
    judged += [
        Assessment(
            subject=Subject(space.id, "", f"urn:dev:ops:kettlemoss-{space.id}"),
            hazard=Hazard.SILENCE,
            standing=Standing.SILENT if space.id == "north-row" else Standing.STEADY,
            at=AT,
            **written(
                "Last heard Sat 13:40; it usually speaks every 10 minutes."
                if space.id == "north-row"
                else "Heard 4 minutes ago.",
                "Read North Row by hand before dark and change the sensor's battery."
                if space.id == "north-row"
                else "",
            ),
            deadline=at(17, 0) if space.id == "north-row" else None,
            urgency=Urgency.IMMEDIATE if space.id == "north-row" else Urgency.UNKNOWN,
            severity=Severity.MODERATE if space.id == "north-row" else Severity.UNKNOWN,
        )
        for space in _SPACES
    ]
    return judged


def alarms() -> list[Alarm]:
    """Three alarms: one taken on, one not, one over."""
    return [
        Alarm(
            id="a-frost",
            cause="frost",
            space="lee-rack",
            craft="K11",
            part="galley",
            state=AlarmState.UNACKNOWLEDGED,
            priority=Priority.HIGH,
            raised_at=at(15, 10),
            changed_at=at(15, 10),
            urgency=Urgency.EXPECTED,
            severity=Severity.SEVERE,
            certainty=Certainty.LIKELY,
            headline=FinishedLine(text="Osprey: galley fittings freeze from 18:15"),
            deadline=at(18, 15),
        ),
        Alarm(
            id="a-silence",
            cause="silence",
            space="north-row",
            craft="",
            part="urn:dev:ops:kettlemoss-north-row",
            state=AlarmState.ACKNOWLEDGED,
            priority=Priority.MEDIUM,
            raised_at=at(14, 10),
            changed_at=at(14, 25),
            urgency=Urgency.IMMEDIATE,
            severity=Severity.MODERATE,
            certainty=Certainty.UNKNOWN,
            headline=FinishedLine(text="North Row: the sensor is silent since 13:40"),
        ),
        Alarm(
            id="a-battery",
            cause="battery",
            space="north-row",
            craft="K4",
            part="battery",
            state=AlarmState.NORMAL,
            priority=Priority.LOW,
            raised_at=at(9, 0, 10),
            changed_at=at(11, 0, 10),
            urgency=Urgency.EXPECTED,
            severity=Severity.MODERATE,
            certainty=Certainty.OBSERVED,
            headline=FinishedLine(text="Sora: maintainer without mains"),
            cleared_at=at(11, 0, 10),
        ),
    ]


def alarm_events() -> list[AlarmEvent]:
    """How the alarms came to be what they are."""
    raised, taken = AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED
    normal = AlarmState.NORMAL
    return [
        AlarmEvent(
            alarm="a-silence",
            at=at(14, 10),
            before=normal,
            after=raised,
            by="laidup",
            why=FinishedLine(text="no reading for 30 min"),
        ),
        AlarmEvent(
            alarm="a-silence",
            at=at(14, 25),
            before=raised,
            after=taken,
            by="ines",
            why=SEEN,
        ),
        AlarmEvent(
            alarm="a-battery",
            at=at(9, 0, 10),
            before=normal,
            after=raised,
            by="laidup",
            why=FinishedLine(text="no mains"),
        ),
        AlarmEvent(
            alarm="a-battery",
            at=at(9, 45, 10),
            before=raised,
            after=taken,
            by="ines",
            why=SEEN,
        ),
        AlarmEvent(
            alarm="a-battery",
            at=at(11, 0, 10),
            before=taken,
            after=normal,
            by="laidup",
            why=FinishedLine(text="mains is back"),
        ),
    ]


def open_store(folder: Path, yard_id: str = "kettlemoss") -> Store:
    """An empty store."""
    return Store(scene_url(folder), yard_id)


def fill(store: Store, *, readings_from: datetime = MONDAY) -> None:
    """Put in the readings of the days before, the judgements and the alarms."""
    with store.transaction() as tx:
        for space in _SPACES:
            name = f"urn:dev:ops:kettlemoss-{space.id}"
            ids = tx.series.series_ids([(name, Channel.TEMPERATURE), (name, Channel.HUMIDITY)])
            until = at(13, 40) if space.id == "north-row" else AT
            rows = list(_readings(space.id, list(ids.values()), readings_from, until))
            tx.reading_writer.append_rows(rows)
        tx.assessments.replace_judgements(assessments())
        tx.alarms.put(alarms())
        tx.alarms.record_changes(alarm_events())


# Mean and swing of each space's air over a day [°C], and its humidity [%].
_AIR = {
    "stove-barn": (7.0, 0.6, 62.0),
    "long-shed": (3.2, 2.5, 81.0),
    "north-row": (2.4, 5.0, 88.0),
    "lee-rack": (1.0, 5.5, 84.0),
    "bench": (8.0, 0.4, 58.0),
}


def _readings(space: str, ids: list[int], since: datetime, until: datetime) -> Iterator[ReadingRow]:
    mean_c, swing_c, mean_rh = _AIR[space]
    for at_ms in range(to_ms(since), to_ms(until), 600_000):
        hour = (at_ms - to_ms(MONDAY)) / 3.6e6
        wave = np.sin((hour - 9.0) * np.pi / 12.0)
        yield ReadingRow(ids[0], at_ms, round((mean_c + swing_c * wave) * 100), None, Flag.PASS)
        yield ReadingRow(ids[1], at_ms, round((mean_rh - 9.0 * wave) * 100), None, Flag.PASS)


def _circuit(row: _Row) -> Circuit:
    return Circuit(
        id=row.id,
        name=row.name,
        volume_l=0.4,
        lag_low_h=1.5,
        lag_high_h=4,
        heat_capacity_kj_k=20,
        material="aluminium",
        drainage=Drainage.PARTLY,
    )


def _protection(row: _Row) -> Protection:
    if row.state is not LayupState.PROVEN:
        return plain_water(row.id, row.state, row.why)
    return Protection(
        circuit=row.id,
        state=row.state,
        ice_point_c=row.ice_c,
        burst_point_c=row.burst_c,
        basis=row.basis,
        why=row.why,
    )


def _frost(space: str, craft_id: str, row: _Row) -> Assessment:
    pressed = row.standing is Standing.EXPOSED
    return Assessment(
        subject=Subject(space, craft_id, row.id),
        hazard=Hazard.FROST,
        standing=row.standing,
        at=AT,
        **written(row.why, row.act),
        now_c=2.0,
        low_c=row.low_c,
        low_at=at(7, 40, 15),
        limit_c=row.ice_c,
        burst_c=row.burst_c,
        margin_k=row.low_c - row.ice_c,
        deadline=row.deadline,
        ends=row.ends,
        urgency=Urgency.EXPECTED if pressed else Urgency.FUTURE,
        severity=Severity.SEVERE if pressed else Severity.MINOR,
        certainty=Certainty.LIKELY,
        cautions=row.cautions,
    )


def _battery(space: str, craft_id: str) -> Assessment:
    if craft_id == "K4":
        return Assessment(
            subject=Subject(space, craft_id, "battery"),
            hazard=Hazard.BATTERY,
            standing=Standing.FREEZING,
            at=AT,
            **written(
                "Flooded, 11.9 V rested, maintainer dead for 9 days: its electrolyte freezes near"
                " −10.7 °C.",
                "Lift the battery out at dusk and take it indoors; do not charge it if it may be"
                " frozen.",
                voltage_v=11.9,
                charge_fraction=0.02,
            ),
            now_c=2.0,
            low_c=-11.0,
            limit_c=-10.7,
            margin_k=-0.3,
            deadline=at(7, 0, 15),
            urgency=Urgency.EXPECTED,
            severity=Severity.SEVERE,
            certainty=Certainty.LIKELY,
            cautions=(Caution.FROZEN_BATTERY, Caution.HYDROGEN),
        )
    return Assessment(
        subject=Subject("bench", craft_id, "battery"),
        hazard=Hazard.BATTERY,
        standing=Standing.CHARGED,
        at=AT,
        **written("On the bench, 13.4 V in float.", voltage_v=13.4, charge_fraction=1.0),
        now_c=8.0,
        low_c=7.5,
        limit_c=-50.0,
        margin_k=57.5,
    )


def _air() -> Iterator[Assessment]:
    nights = {
        "stove-barn": (7.3, 60.0, 0.1, 6.4, (5.9, 6.9), at(7, 30, 15), None),
        "long-shed": (3.0, 78.0, -0.5, -6.3, (-7.4, -5.2), at(8, 54, 15), at(23, 28)),
        "north-row": (2.1, 86.0, 0.0, -13.0, (-14.2, -11.8), at(7, 0, 15), at(17, 45)),
        "lee-rack": (2.0, 82.0, -0.7, -15.0, (-16.2, -13.8), at(7, 0, 15), at(17, 30)),
        "bench": (8.1, 57.0, 0.1, 7.4, (7.0, 7.8), at(7, 30, 15), None),
    }
    for space, (air_c, rh_pct, dew_c, low_c, band, low_at, below) in nights.items():
        yield Assessment(
            subject=Subject(space),
            hazard=Hazard.AIR,
            standing=Standing.STEADY,
            at=AT,
            **written(
                "Night trend from the yard's own readings, judged on the cold edge of the band.",
                air_c=air_c,
                rh_pct=rh_pct,
                dew_point_c=dew_c,
                low_c=low_c,
                low_band_low_c=band[0],
                low_band_high_c=band[1],
            ),
            now_c=air_c,
            low_c=low_c,
            low_at=low_at,
            deadline=below,
            margin_k=nan,
        )


KETTLEMOSS_NOW = AT.astimezone(UTC) + timedelta(minutes=4)
