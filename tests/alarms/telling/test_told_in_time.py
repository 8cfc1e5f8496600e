"""Weeks of nights over circuits of several craft: each danger that begins is told in its night."""

from dataclasses import dataclass
from datetime import datetime, timedelta

import hypothesis.strategies as st
from hypothesis import example, given, settings

from monitor.alarms.causes.conditions import JudgedYard
from monitor.alarms.causes.lifecycle import step_alarm
from monitor.alarms.definitions import DEFINITIONS
from monitor.alarms.entry import entries_of
from monitor.alarms.telling.grouping import letters_due
from monitor.phrases.standings import ICED
from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import Standing
from monitor.yard.watch import Watch
from tests.alarms.scene import OPERATOR, ZONE, craft, frost, yard
from tests.tried import tried

NOON = datetime(2026, 11, 14, 12, tzinfo=ZONE)
HOUR, NIGHT = timedelta(hours=1), timedelta(days=1)
ICE_LASTS = 3  # hours
LOOKED_INTO = 22  # hours after the noon before: ten in the morning
YARD = yard((OPERATOR,))
FLEET = {"K1": craft("K1", "Teal", "rack", parts=2), "K2": craft("K2", "Coot", "rack")}
PARTS = [(each.id, circuit.id) for each in FLEET.values() for circuit in each.circuits]
CAUSES = [DEFINITIONS["frost"], DEFINITIONS["ice"]]


@dataclass(frozen=True, kw_only=True)
class Fate:
    """What one night does to one circuit."""

    danger: bool = False
    ices: bool = False
    begins: int = 4  # hours after noon at which it is seen to be exposed
    lead: int = 6  # hours from there to its first ice
    looked_into: bool = False  # the next morning

    def standing(self, hour: int, suspect: bool) -> Standing:
        """How it stands so many hours after noon."""
        ice = self.begins + self.lead
        if self.danger and self.ices and ice <= hour < ice + ICE_LASTS:
            return Standing.ICING
        if suspect or (self.danger and self.ices and hour >= ice + ICE_LASTS):
            return Standing.SUSPECT
        if self.danger and self.begins <= hour < ice:
            return Standing.EXPOSED
        return Standing.HOLDING


FATES = st.builds(
    Fate,
    danger=st.sampled_from([False, False, True]),
    ices=st.booleans(),
    begins=st.integers(0, 11),
    lead=st.integers(3, 10),
    looked_into=st.sampled_from([False, False, False, True]),
)
CALM_NIGHTS = 1
LEFT_ALONE = 99  # nights since there was ice in it: more than any winter here has
WINTERS = st.lists(st.lists(FATES, min_size=10, max_size=10), min_size=3, max_size=3)


@dataclass(frozen=True, kw_only=True)
class Danger:
    """A circuit that began to be exposed or to ice, and by when that must have been told."""

    part: tuple[str, str]
    rank: int
    spell_since: datetime  # from here on a letter counts
    by: datetime


def lived(winter):
    """Every letter of some weeks of rounds, an hour apart, and the dangers that began in them."""
    alarms, watches, threads = {}, {}, {}
    suspect = dict.fromkeys(PARTS, False)
    seen_before = dict.fromkeys(PARTS)  # how it stood an hour ago
    spells = {}  # by part: since when its spell lasts, and its last night
    iced_on = {}  # by part: the last night in which ice stood in it, and nobody looked into it
    written, dangers = [], []
    for n in range(24 * len(winter[0])):
        now, (night, hour) = NOON + n * HOUR, divmod(n, 24)
        judged = []
        for part, fates in zip(PARTS, winter, strict=True):
            fate = fates[night]
            if suspect[part] and fate.looked_into and hour == LOOKED_INTO:
                suspect[part] = False
                spells.pop(part, None)
                iced_on.pop(part, None)
            stands = fate.standing(hour, suspect[part])
            if hour >= LOOKED_INTO and fate.looked_into:
                stands = Standing.HOLDING
            deadline = NOON + night * NIGHT + (fate.begins + fate.lead) * HOUR
            if stands in {Standing.EXPOSED, Standing.ICING}:
                since, last = spells.get(part, (now, night))
                since = now if night - last > 1 else since
                spells[part] = since, night
                # Ice that somebody looks into the next morning needs no letter of the next noon.
                looked_into = stands is Standing.ICING and fate.looked_into
                # Who was told to leave it alone for its ice does nothing else for new ice in it.
                again = stands is Standing.ICING and night - iced_on.get(part, -LEFT_ALONE) <= 7
                if stands is Standing.ICING:
                    iced_on[part] = night
                if stands is not seen_before[part] and not (looked_into or again):
                    dangers.append(begun(part, stands, since, now, deadline, night))
            suspect[part] = suspect[part] or stands is Standing.ICING
            seen_before[part] = stands
            at = deadline if stands in {Standing.EXPOSED, Standing.ICING} else None
            low_c = 6.0 if stands is Standing.HOLDING else -6.0
            judged.append(
                frost(FLEET[part[0]], stands, now, part=part[1], deadline=at, low_c=low_c)
            )
        judged_yard = JudgedYard.lay_out(YARD, FLEET, judged)
        assessed = {}
        for definition in CAUSES:
            for seen in judged_yard.observe_cause(definition, alarms, watches):
                watch = watches.get(seen.key) or Watch(key=seen.key)
                done = step_alarm(alarms.get(seen.key), watch, seen, definition, now)
                watches[seen.key] = done.watch
                if done.alarm is not None:
                    alarms[seen.key] = done.alarm
                    assessed[done.alarm.id] = seen.assessment
        entries = entries_of(alarms.values(), assessed, FLEET, DEFINITIONS)
        told, changed = letters_due(YARD, entries, threads.values(), now)
        threads |= {each.thread: each for each in changed}
        written += [(now, letter) for letter in told]
        alarms = {k: a for k, a in alarms.items() if a.state is not AlarmState.NORMAL}
    return written, dangers


def begun(part, stands, since, now, deadline, night):
    """What must have been told by when: the light and the hours to act, or the next noon."""
    if stands is Standing.ICING:
        return Danger(part=part, rank=ICED, spell_since=since, by=NOON + (night + 1) * NIGHT + HOUR)
    in_time = max(now + HOUR, deadline - 5 * HOUR + HOUR)
    return Danger(part=part, rank=3, spell_since=since, by=in_time)


CALM = Fate()
# Two letters have gone when the ice forms, so that it is told only at noon, of the night before.
TOLD_LATE = [Fate(danger=True, begins=0, lead=3)] + [CALM] * 9
ICED_TWICE = [
    Fate(danger=n in {0, 2}, ices=n in {0, 2}, begins=1 if n == 0 else 0, lead=3) for n in range(10)
]


def night_of(*dangers, ices=(), looked_into=()):
    """Ten nights of one circuit, calm but for those named."""
    return [
        Fate(danger=n in dangers, ices=n in ices, looked_into=n in looked_into) for n in range(10)
    ]


@settings(max_examples=tried(12), deadline=None)
@given(WINTERS)
@example([night_of(0, ices=(0,)), night_of(8), night_of(8)])
@example([night_of(0, 1, 8, ices=(0, 1, 8)), night_of(), night_of()])
@example([TOLD_LATE, [CALM] * 10, ICED_TWICE])
@example([night_of(0, 1, ices=(0,), looked_into=(0,)), night_of(), night_of()])
def test_each_circuit_that_becomes_exposed_or_ices_is_told_in_its_spell_and_in_time(winter):
    written, dangers = lived(winter)
    end = NOON + len(winter[0]) * NIGHT
    for danger in dangers:
        if danger.by >= end:
            continue
        assert any(
            (entry.alarm.craft, entry.alarm.part) == danger.part and entry.rank >= danger.rank
            for at, letter in written
            if danger.spell_since <= at <= danger.by
            for each in (letter, *letter.along)
            for entry in each.entries
        ), danger


@settings(max_examples=tried(12), deadline=None)
@given(WINTERS)
def test_more_than_two_letters_a_night_go_only_for_what_is_new_and_must_never_be_missed(winter):
    written, _ = lived(winter)
    nights = {}
    for at, letter in written:
        nights.setdefault((at - timedelta(hours=12)).date(), []).append(letter)
    for of_night in nights.values():
        for letter in of_night[2:]:
            assert any(entry.news for each in (letter, *letter.along) for entry in each.entries)
