"""Does what is told agree with its own figures, at the moment it is told?

Real readings in a real store, judged and told round by round on the readings' clock.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from math import isfinite
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.craft.profile import Chemistry, Surface
from monitor.craft.stored import Battery, BatteryPlace, StoredCraft
from monitor.judgement.round import Round
from monitor.phrases.alarm_lines import headline_text
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.assessment import Assessment, Hazard
from monitor.yard.message import Message
from monitor.yard.readers import words_for
from monitor.yard.reading import Channel, Flag, Reading
from monitor.yard.space import Mount, Person, Role, Sensor, Yard
from tests.judgement import scene
from tests.line.drills.warnings import Warned, WarningDrill, Word
from tests.written import basis_said

_BEGINS = datetime(2026, 11, 10, 18, tzinfo=UTC)
_STEP = timedelta(minutes=30)
_STEPS_BEFORE = 192  # four days of readings, before anything is judged
_NIGHT, _NOON = 20, 52  # steps at which damp air comes: ten at night, and two in the afternoon
_WET_FOR = 8  # steps
_STEPS = 72
_HEARD_FOR = 16
_UNHEARD = "no fresh reading"
_SHE = Person(
    id="maren",
    name="Maren Ulv",
    mail="maren@yard.example",
    roles=frozenset({Role.OPERATOR, Role.MECHANIC}),
)
_METAL = Surface(id="block", name="Engine block", lag_low_h=3.0, lag_high_h=6.0, length_m=0.3)
_UNIT = Sensor(
    name="unit",
    space=scene.SHED.id,
    mount=Mount.BATTERY,
    craft="teal",
    labels={"voltage": Channel.VOLTAGE},
)
_BATTERY = Battery(
    chemistry=Chemistry.FLOODED,
    capacity_ah=18.0,
    lag_low_h=2.0,
    lag_high_h=4.0,
    place=BatteryPlace.ABOARD,
    space=scene.SHED.id,
    maintained=True,
)
Columns = Mapping[tuple[str, Channel], NDArray[np.float64]]  # of every half hour; NaN: none came


@dataclass(slots=True, kw_only=True)
class _Followed:
    """What was told while the judgements stood so, round by round."""

    at: list[datetime] = field(default_factory=list)
    judged: list[dict[Hazard, Assessment]] = field(default_factory=list)
    headlines: list[list[str]] = field(default_factory=list)
    bases: list[str] = field(default_factory=list)
    letters: list[Message] = field(default_factory=list)

    def when(self, letter: Message) -> dict[Hazard, Assessment]:
        """How all stood when a letter was written."""
        return self.judged[self.at.index(letter.created_at)]


def damp_of_last_night(folder: Path) -> Warned:
    """Metal is wet for some hours of a night and dry by day; the next day it is wet again."""
    night, noon = _steps_from(_NIGHT), _steps_from(_NOON)
    damp = (night >= 0) & (night < _WET_FOR) | (noon >= 0)
    dry_c = np.select([night < 0, noon < -12], [-4.0, 9.0], -2.0)
    followed = _follow(
        folder,
        {
            ("air-long-shed", Channel.TEMPERATURE): np.where(damp, 4.0, dry_c),
            ("air-long-shed", Channel.HUMIDITY): np.where(damp, 96.0, 45.0),
            ("unit", Channel.VOLTAGE): np.full(damp.size, 13.9),
        },
    )
    letters = [each for each in followed.letters if "dry" in each.subject]
    wet = [n for n, each in enumerate(followed.judged) if each[Hazard.DAMP].margin_k < 0.0]
    by_night = [n for n in wet if n < _NOON]
    dry = [n for n in range(_NIGHT + _WET_FOR, _NOON) if n not in wet]
    again = [each for each in letters if each.created_at >= followed.at[_NOON]]
    denied = [each for each in letters if not _is_wet(followed.when(each)[Hazard.DAMP], each)]
    return Warned(
        held=bool(by_night and dry and again) and not denied,
        words=tuple(_word(each, followed.at[_NOON]) for each in letters),
        note=f"wet {len(by_night) / 2:g} h by night, then dry {len(dry) / 2:g} h;"
        f" {len(denied)} letters against their figures; seconds of the yard's clock from then",
    )


def _is_wet(seen: Assessment, letter: Message) -> bool:
    """Whether metal that a letter tells of is below the dew point, or said to be drying."""
    drying = seen.ends is not None and "still wet" in letter.text
    return seen.margin_k < 0.0 or drying


def overcharged_then_silent(folder: Path) -> Warned:
    """A charger holds far too much for some hours, and is then not heard any more."""
    begun = _steps_from(0)
    volts = np.select([begun < 0, begun < _HEARD_FOR], [13.9, 15.6], np.nan)
    followed = _follow(
        folder,
        {
            ("air-long-shed", Channel.TEMPERATURE): np.full(begun.size, 5.0),
            ("air-long-shed", Channel.HUMIDITY): np.full(begun.size, 55.0),
            ("unit", Channel.VOLTAGE): volts,
        },
    )
    letters = [
        each
        for each in followed.letters
        if "maintainer" in each.subject or "battery" in each.subject
    ]
    unheard = [n for n, lines in enumerate(followed.headlines) if _UNHEARD in " ".join(lines)]
    denied = [n for n in unheard if _is_as_of_now(followed.bases[n])]
    last_held = [n for n in unheard if " last held " in followed.bases[n]]
    return Warned(
        held=bool(letters and last_held) and not denied,
        words=tuple(_word(each, followed.at[0]) for each in letters),
        note=f"then not heard for {len(unheard) / 2:g} h, {len(denied) / 2:g} h of it beside a"
        " voltage as of now; seconds of the yard's clock",
    )


def _is_as_of_now(basis: str) -> bool:
    """Whether a voltage is said as of now, of a charger that is said to be silent."""
    return " holds " in basis or ("last heard at" in basis and " It stands at " in basis)


def _steps_from(step: int) -> NDArray[np.int_]:
    """Half hours after a step, for each reading; those before the first round are negative."""
    return np.arange(-_STEPS_BEFORE, _STEPS) - step


def _follow(folder: Path, columns: Columns) -> _Followed:
    """Judge and tell each half hour."""
    yard = replace(scene.yard_of(scene.SHED, sensors=(_UNIT,)), people=(_SHE,))
    craft = scene.stored(
        scene.SHED, (scene.circuit(), scene.mix(-40.0)), craft_id="teal", surfaces=(_METAL,),
        battery=_BATTERY,
    )  # fmt: skip
    url = f"sqlite:///{folder / 'laidup.db'}"
    migrate(url)
    store, clock = Store(url, yard.id), ReadingsClock(_BEGINS)
    judging, telling = Round(store, yard, clock), AlarmRound(store, yard, clock)
    followed = _Followed()
    _keep(store, columns, range(_STEPS_BEFORE))
    for step in range(_STEPS):
        _keep(store, columns, range(_STEPS_BEFORE + step, _STEPS_BEFORE + step + 1))
        clock.advance_to(_BEGINS + step * _STEP)
        judging.run([craft])
        telling.run({craft.id: craft})
        _note(followed, store, yard, craft)
    with store.snapshot() as tx:
        followed.letters = [message for message, _ in tx.outbox.newest_messages(limit=1000)][::-1]
    store.close()
    return followed


def _note(followed: _Followed, store: Store, yard: Yard, craft: StoredCraft) -> None:
    with store.snapshot() as tx:
        of_craft = [
            each for each in tx.assessments.latest_judgements() if each.subject.craft == craft.id
        ]
        alarms = tx.alarms.open_alarms()
    followed.at.append(of_craft[0].at)
    followed.judged.append({each.hazard: each for each in of_craft})
    of_battery = [e for e in of_craft if e.hazard in {Hazard.BATTERY, Hazard.CHARGING}]
    followed.bases.append(" ".join(basis_said(each, yard, craft) for each in of_battery))
    words = words_for(yard, of_craft[0].at)
    followed.headlines.append([headline_text(each, words) for each in alarms])


def _keep(store: Store, columns: Columns, rows: range) -> None:
    with store.transaction() as tx:
        for (sensor, channel), values in columns.items():
            tx.reading_writer.add(_readings(sensor, channel, values, rows))


def _readings(
    sensor: str, channel: Channel, values: NDArray[np.float64], rows: range
) -> Iterator[Reading]:
    for row in rows:
        at = _BEGINS + (row - _STEPS_BEFORE) * _STEP
        value = round(float(values[row]), 2)
        if isfinite(value):
            yield Reading(
                sensor=sensor,
                channel=channel,
                at_ms=int(at.timestamp()) * 1000,
                value=value,
                raw=value,
                flag=Flag.PASS,
            )


def _word(letter: Message, since: datetime) -> Word:
    after_s = (letter.created_at - since).total_seconds()
    return Word(to="operator", what=letter.subject, after_s=after_s)


DRILLS: list[WarningDrill] = [
    WarningDrill(name="metal wet by night, dry by day", parts="SQLite", run=damp_of_last_night),
    WarningDrill(name="overcharged, then not heard", parts="SQLite", run=overcharged_then_silent),
]
