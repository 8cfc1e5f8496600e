"""When people are written to: whatever comes in whatever order, little, in time, and all of it."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import hypothesis.strategies as st
from hypothesis import example, given, settings

from monitor.alarms.definitions import DEFINITIONS
from monitor.alarms.entry import Entry, Standpoint
from monitor.alarms.telling.grouping import letters_due
from monitor.alarms.telling.pace import Pace, can_wait, has_waited
from monitor.phrases.standings import ICED
from monitor.yard.alarm import Alarm, AlarmState, Priority, Topic
from monitor.yard.alarm_facts import FinishedLine
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.space import Person, Role
from tests.alarms.scene import MECHANIC, OPERATOR, ZONE, craft, frost, yard
from tests.tried import tried

NOON = datetime(2026, 11, 14, 12, tzinfo=ZONE)
STEP = timedelta(minutes=30)
HOURS = 40  # in which facts come; then all that is left to tell has two days
BOTH = Person(id="maren", name="Maren Ulv", mail="maren@yard.example",
              roles=frozenset({Role.OPERATOR, Role.MECHANIC}))  # fmt: skip
OWNER = Person(id="owner", name="Owner", mail="o@post.example", roles=frozenset({Role.OWNER}))
YARD = yard((BOTH, OWNER))
APART = yard((OPERATOR, MECHANIC, OWNER))  # the mechanic hears of other causes than the operator
FLEET = tuple(craft(f"K{n}", f"Craft {n}", "shed", owner="owner") for n in range(4))


@dataclass(frozen=True, kw_only=True)
class Fact:
    """One thing that begins to hold, and how long after that its hour comes."""

    cause: str
    standing: Standing
    which: int
    at: datetime
    ends: datetime | None
    in_hours: float | None

    def entry(self, now: datetime) -> Entry:
        """The fact as the round lists it."""
        definition = DEFINITIONS[self.cause]
        of_craft = definition.hazard in {
            Hazard.FROST,
            Hazard.DAMP,
            Hazard.BATTERY,
            Hazard.RECORD,
        }
        which = FLEET[self.which]
        subject = Subject("shed", which.id, self.cause) if of_craft else Subject("shed")
        if definition.hazard is Hazard.BATTERY:
            subject = Subject("shed", which.id, "battery")  # one, whatever is wrong with it
        if definition.hazard is Hazard.DAMP:  # which is told by the space
            subject = replace(subject, space=f"hall-{self.which}")
        if self.cause == "heat-loss":
            subject = Subject(f"barn-{self.which}")
        if self.cause == "silence":
            subject = Subject("shed", "", f"sensor-{self.which}")
        over = self.ends is not None and now >= self.ends
        deadline = None if self.in_hours is None else self.at + timedelta(hours=self.in_hours)
        alarm = Alarm(
            id=f"{self.cause}-{self.which}-{self.at:%d%H%M}",
            cause=self.cause,
            space=subject.space,
            craft=subject.craft,
            part=subject.part,
            state=AlarmState.RETURNED if over else AlarmState.UNACKNOWLEDGED,
            priority=Priority.LOW if self.cause in {"damp", "silence"} else Priority.HIGH,
            raised_at=self.at,
            changed_at=self.at,
            urgency=Urgency.EXPECTED,
            severity=Severity.SEVERE,
            certainty=Certainty.LIKELY,
            headline=FinishedLine(text=""),
            deadline=deadline,
        )
        judged = frost(which, self.standing, now, deadline=deadline, hazard=definition.hazard)
        assessment: Assessment = replace(judged, subject=subject)
        return Entry(
            alarm=alarm,
            definition=definition,
            assessment=assessment,
            craft=which if of_craft else None,
        )


KINDS = (
    ("frost", Standing.EXPOSED),
    ("ice", Standing.ICING),
    ("heat-loss", Standing.FALLING),
    ("battery-freezing", Standing.FREEZING),
    ("sweat", Standing.SWEATING),
    ("sweat", Standing.DEW_AHEAD),
    ("damp", Standing.DAMP),
    ("silence", Standing.SILENT),
    ("maintainer-lost", Standing.LOST),
    ("voided", Standing.VOIDED),
)
UNDONE = tuple(each for each in KINDS if each[0] in {"voided", "ice", "frost", "silence", "sweat"})
HAS_HOUR = {Standing.EXPOSED, Standing.FALLING, Standing.FREEZING, Standing.DEW_AHEAD}


@st.composite
def facts(draw, kinds=KINDS):
    """Up to a dozen facts, whenever they like, over a yard's four craft and spaces."""
    found = []
    for _ in range(draw(st.integers(1, 12))):
        cause, standing = draw(st.sampled_from(kinds))
        at = NOON + STEP * draw(st.integers(0, 2 * HOURS))
        hour = draw(st.integers(1, 20)) if standing in HAS_HOUR else None
        lasts = draw(st.none() | st.integers(6, 60))
        ends = None if lasts is None else at + timedelta(hours=lasts)
        which = draw(st.integers(0, 3))
        found.append(
            Fact(cause=cause, standing=standing, which=which, at=at, ends=ends, in_hours=hour)
        )
    # One fact at a time of one cause over one subject: an alarm is one.
    return list({(each.cause, each.which): each for each in found}.values())


def begun(cause, hours, *, which=0, in_hours=None, standing=None):
    """One fact that begins so many hours after noon and stays."""
    at = NOON + timedelta(hours=hours)
    standing = standing or dict(KINDS)[cause]
    return Fact(cause=cause, standing=standing, which=which, at=at, ends=None, in_hours=in_hours)


def lived(found, the_yard=YARD, hours=HOURS + 60):
    """Every round's letters, by person, and the threads as they stand in the end."""
    threads = {}
    written = []
    now = NOON
    while now <= NOON + timedelta(hours=hours):
        entries = [each.entry(now) for each in found if each.at <= now]
        told, changed = letters_due(the_yard, entries, threads.values(), now)
        threads |= {each.thread: each for each in changed}
        written += [(now, letter) for letter in told]
        now += STEP
    return written, threads


def all_of(letter):
    """What a letter lists, its own thread's and what went along."""
    return [e for each in (letter, *letter.along) for e in each.entries]


def by_night(written, person):
    nights = {}
    for at, letter in written:
        if letter.person is person:
            nights.setdefault((at - timedelta(hours=12)).date(), []).append((at, letter))
    return nights.values()


def never_missed_news(letter):
    return [e for e in all_of(letter) if e.news and e.definition.never_missed]


@settings(max_examples=tried(20), deadline=None)
@given(facts())
def test_a_third_letter_of_a_night_tells_of_what_is_new_and_must_never_be_missed(found):
    written, _ = lived(found)
    for person in (BOTH, OWNER):
        for letters_of_night in by_night(written, person):
            for _, letter in letters_of_night[2:]:
                assert never_missed_news(letter)


@settings(max_examples=tried(20), deadline=None)
@given(facts())
def test_at_night_staff_are_written_to_only_for_what_must_never_be_missed(found):
    written, _ = lived(found)
    for at, letter in written:
        if not 6 <= at.hour < 21:
            assert letter.standpoint is Standpoint.STAFF
            assert never_missed_news(letter)


@settings(max_examples=tried(20), deadline=None)
@given(facts())
def test_what_must_never_be_missed_comes_at_once_or_five_hours_before_its_hour(found):
    written, _ = lived(found)
    for fact in found:
        entry = fact.entry(fact.at)
        if not entry.definition.never_missed:
            continue
        told = [at for at, letter in written if letter.standpoint is Standpoint.STAFF
                and any(e.about == entry.about and e.definition.topic is entry.definition.topic
                        and e.rank >= entry.rank for e in all_of(letter))]  # fmt: skip
        before = [e for at, letter in written if at < fact.at for e in all_of(letter)
                  if e.about == entry.about]  # fmt: skip
        latest = fact.at + STEP
        if entry.iced and before:
            continue  # it was warned of, and told to count as frozen
        if entry.rank == 1:
            continue  # no ice is expected
        if entry.alarm.deadline is not None:
            latest = max(latest, entry.alarm.deadline - timedelta(hours=5) + STEP)
        if fact.ends is not None and fact.ends <= latest:
            continue
        assert told, fact
        # What stood as bad before was told then, and this changes no act.
        assert min(told) <= latest, fact


@settings(max_examples=tried(20), deadline=None)
@given(facts())
def test_nothing_is_lost(found):
    # What can wait for another letter has gone by then: damp air three days and a night.
    hours = HOURS + 72 + 24
    _, threads = lived(found, hours=hours)
    end = NOON + timedelta(hours=hours)
    told = {(each.topic, about): what for each in threads.values() if not each.owner
            for about, what in each.told.items() if each.closed_at is None}  # fmt: skip
    for fact in found:
        entry = fact.entry(end)
        if entry.alarm.state is AlarmState.UNACKNOWLEDGED:
            assert told[entry.definition.topic, entry.danger].rank >= entry.rank
    for thread in threads.values():
        alive = [f for f in found if f.ends is None or f.ends > end]
        if thread.topic != Topic.DAMP and not any(
            str(f.entry(end).definition.topic) == thread.topic for f in alive
        ):
            assert thread.closed_at is not None, "an all clear is owed"


@settings(max_examples=tried(20), deadline=None)
@given(facts())
# The evening's letter has gone when it is known, and the morning's would come after the dew.
@example([begun("silence", 3), begun("sweat", 7, which=1, in_hours=6, standing=Standing.DEW_AHEAD)])
# Between the morning's letter and the evening's.
@example([begun("damp", 15), begun("sweat", 22, which=1, in_hours=3, standing=Standing.DEW_AHEAD)])
def test_doors_are_told_to_be_shut_before_the_dew_or_at_once_but_nobody_is_woken(found):
    written, _ = lived(found)
    mine = [(at, letter) for at, letter in written if letter.person is BOTH]
    for fact in found:
        if fact.standing is not Standing.DEW_AHEAD or not 6 <= fact.at.hour < 21:
            continue
        hour = fact.entry(fact.at).alarm.deadline
        latest = max(fact.at, hour - timedelta(minutes=30))
        lasts = fact.ends is None or fact.ends > latest
        noon = (fact.at - timedelta(hours=12)).replace(hour=12, minute=0)
        tonight = [at for at, _ in mine if noon <= at <= fact.at]
        if not lasts or len(tonight) >= 2:
            continue
        about = fact.entry(fact.at).about
        told = [at for at, letter in mine if any(e.about == about for e in all_of(letter))]
        nights_two = [at for at, _ in mine if noon <= at <= latest]
        assert (told and min(told) <= latest) or len(nights_two) >= 2, fact


def test_damp_air_goes_along_with_a_letter_or_by_itself_after_three_days():
    damp = begun("damp", 3)
    written, _ = lived([damp], hours=HOURS + 72)
    ((at, alone),) = [(at, each) for at, each in written if each.person is BOTH]
    assert [entry.alarm.cause for entry in alone.entries] == ["damp"]
    # Told at 15:00 it waits three days, and goes with that evening's letter.
    assert at == damp.at + timedelta(hours=72)
    frost = begun("frost", 30, which=1, in_hours=8)
    written, _ = lived([damp, frost], hours=HOURS + 72)
    ((at, along),) = [(at, each) for at, each in written if each.person is BOTH]
    assert at == frost.at
    assert {entry.alarm.cause for entry in all_of(along)} == {"frost", "damp"}


@settings(max_examples=tried(20), deadline=None)
@given(facts())
def test_no_owner_hears_of_a_craft_before_the_yard_does(found):
    written, _ = lived(found)
    known = {}
    for _, letter in written:
        for entry in all_of(letter):
            key = (entry.definition.topic, entry.about)
            if letter.standpoint is Standpoint.STAFF:
                known[key] = max(entry.rank, known.get(key, 0))
            elif entry.news:
                assert known.get(key, 0) >= entry.rank


@settings(max_examples=tried(20), deadline=None)
@given(facts(UNDONE))
@example([begun("voided", 2)])  # an owner may be written to, and the mechanic's letter waits
def test_no_owner_hears_before_the_people_who_are_told_of_that_cause(found):
    written, _ = lived(found, APART)
    known = {}
    for _, letter in written:
        for entry in all_of(letter):
            key = (entry.definition.topic, entry.about)
            if letter.standpoint is Standpoint.STAFF:
                mine = known.setdefault(key, {})
                mine[letter.person] = max(entry.rank, mine.get(letter.person, 0))
            elif entry.news:
                assert any(
                    rank >= entry.rank and person.roles & entry.definition.tells
                    for person, rank in known.get(key, {}).items()
                ), entry.alarm.cause


@settings(max_examples=tried(20), deadline=None)
@given(facts())
# The evening's letter has gone, and the morning's would come in time by the clock alone.
@example([begun("frost", 3, in_hours=10), begun("frost", 4.5, which=1, in_hours=19)])
@example([begun("frost", 7, in_hours=10), begun("frost", 7.5, which=1, in_hours=16)])
def test_what_is_known_by_eight_in_the_evening_is_told_while_there_is_light(found):
    written, _ = lived(found)
    for fact in found:
        entry, deadline = fact.entry(fact.at), fact.entry(fact.at).alarm.deadline
        noon = (fact.at - timedelta(hours=12)).replace(hour=12) + timedelta(days=1)
        if deadline is None or not 12 <= fact.at.hour < 20 or deadline >= noon:
            continue
        if fact.standing is Standing.DEW_AHEAD:  # takes no third letter: its own test is above
            continue
        latest = max(fact.at, fact.at.replace(hour=18, minute=0))
        if fact.ends is not None and fact.ends <= latest:
            continue
        assert any(
            e.about == entry.about and e.rank >= entry.rank
            for at, letter in written
            if at <= latest and letter.standpoint is Standpoint.STAFF
            for e in all_of(letter)
            if e.definition.topic is entry.definition.topic
        ), fact


@settings(max_examples=tried(20), deadline=None)
@given(facts(UNDONE))
@example([begun("voided", 3), begun("ice", 15)])
@example([begun("voided", 3), begun("ice", 22)])  # while the mechanic is at work
def test_who_was_told_to_lay_a_craft_up_again_hears_by_day_that_it_froze(found):
    written, _ = lived(found, APART)
    mine = [(at, e) for at, letter in written if letter.person is MECHANIC for e in all_of(letter)]
    for ice in (each for each in found if each.cause == "ice"):
        told = [
            at for at, e in mine if e.alarm.cause == "voided" and e.alarm.craft == f"K{ice.which}"
        ]
        undone = [f for f in found if f.cause == "voided" and f.which == ice.which and not f.ends]
        if not (told and undone):
            continue
        since = max(ice.at, min(told))
        morning = since.replace(hour=6, minute=0) + timedelta(days=since.hour >= 21)
        latest = (since if 6 <= since.hour < 21 else morning) + STEP
        if ice.ends is not None and ice.ends <= latest:
            continue
        assert any(
            e.alarm.cause == "ice" and e.alarm.craft == f"K{ice.which}" and at <= latest
            for at, e in mine
        ), ice


def test_a_lost_maintainer_does_not_hide_that_its_battery_may_freeze():
    at = NOON + timedelta(hours=5)
    freezing = Fact(
        cause="battery-freezing", standing=Standing.FREEZING, which=0, at=at, ends=None, in_hours=14
    )
    lost = replace(
        freezing, cause="maintainer-lost", standing=Standing.LOST, at=NOON, in_hours=None
    )
    for found in ([freezing, lost], [lost, freezing]):
        written, _ = lived(found, APART)
        first = next(
            at for at, letter in written for e in letter.entries if e.alarm.cause == freezing.cause
        )
        assert first == at


def test_ice_that_was_warned_of_is_told_in_the_morning_with_all_else_that_waits():
    at = NOON + timedelta(hours=4)
    warned = Fact(cause="frost", standing=Standing.EXPOSED, which=0, at=at, ends=None, in_hours=4)
    ice = replace(warned, cause="ice", standing=Standing.ICING, at=at + timedelta(hours=4),
                  in_hours=None)  # fmt: skip
    damp = replace(ice, cause="damp", standing=Standing.DAMP)
    silent = replace(ice, cause="silence", standing=Standing.SILENT)
    written, _ = lived([warned, ice, damp, silent])
    mine = [(at, letter) for at, letter in written if letter.person is BOTH]
    (_, first), (morning, second) = mine
    assert [entry.alarm.cause for entry in first.entries] == ["frost"]
    assert morning == NOON + timedelta(hours=18)
    assert {entry.alarm.cause for entry in all_of(second)} >= {"ice", "damp", "silence"}
    assert max(entry.rank for entry in second.entries) == ICED


def test_a_heater_lost_after_the_evenings_letters_is_told_at_once_and_takes_along_what_waits():
    evening = NOON + timedelta(hours=5)
    begun = Fact(
        cause="frost", standing=Standing.EXPOSED, which=0, at=evening, ends=None, in_hours=6
    )
    second = replace(begun, which=1, at=evening + timedelta(hours=2), in_hours=4)
    damp = replace(
        begun,
        cause="sweat",
        standing=Standing.SWEATING,
        at=evening + timedelta(hours=3),
        in_hours=None,
    )
    heat = replace(
        begun, cause="heat-loss", standing=Standing.FALLING, at=evening + timedelta(hours=9)
    )
    written, _ = lived([begun, second, damp, heat])
    tonight = [(at, each) for at, each in written if each.person is BOTH][:3]
    assert [at for at, _ in tonight] == [begun.at, second.at, heat.at]
    last = tonight[-1][1]
    assert {entry.alarm.cause for entry in last.entries} == {"heat-loss"}
    assert {entry.alarm.cause for each in last.along for entry in each.entries} == {"sweat"}


def test_frost_that_passed_by_while_it_waited_for_a_letter_is_not_told():
    now = NOON + timedelta(hours=24)
    told = Fact(cause="frost", standing=Standing.EXPOSED, which=0, at=NOON, ends=None, in_hours=6)
    waited = replace(told, which=1, at=NOON + timedelta(hours=15))
    first = told.entry(NOON)
    _, conversations = letters_due(YARD, [first], [], NOON)
    passed = waited.entry(now)
    spared = replace(passed, assessment=replace(passed.assessment, standing=Standing.HOLDING))
    iced = replace(told, cause="ice", standing=Standing.ICING).entry(now)
    written, _ = letters_due(YARD, [first, iced, spared], conversations, now)
    mine = next(each for each in written if each.person is BOTH)
    assert {entry.alarm.craft for entry in mine.entries} == {"K0"}
    # Of one that was told of, its numbers would deny that it is in danger: the all clear names it.
    calm = replace(first, assessment=replace(first.assessment, standing=Standing.HOLDING))
    again, changed = letters_due(YARD, [calm, passed], conversations, now)
    mine = next(each for each in again if each.person is BOTH)
    assert {entry.alarm.craft for entry in mine.entries} == {"K1"}
    over = [replace(each, alarm=replace(each.alarm, state=AlarmState.RETURNED))
            for each in (calm, passed)]  # fmt: skip
    later = now + timedelta(hours=18)
    clear, _ = letters_due(YARD, over, changed, later)
    mine = next(each for each in clear if each.person is BOTH)
    assert {entry.alarm.craft for entry in mine.entries} == {"K0", "K1"}


def test_a_clock_that_is_put_back_does_not_hold_up_what_was_entered_or_found_before():
    moved = begun("moved-out", 9, standing=Standing.OUT_OF_HEAT)
    mouldy = begun("damp", 9)

    def presses(hours_after):
        now = moved.at + timedelta(hours=hours_after)
        return Pace((), now, ZONE).presses(moved.entry(now), {}, opening=True)

    assert not presses(0.05)  # what the next rounds judge of it goes along
    assert presses(0.2)
    assert presses(-3.0)  # raised by a clock that was three hours ahead

    def waits(hours_after):
        now = mouldy.at + timedelta(hours=hours_after)
        return can_wait(mouldy.entry(now), now)

    assert waits(0.05)
    assert not waits(-3.0)

    def waited_a_day(hours_after):
        now = mouldy.at + timedelta(hours=hours_after)
        return has_waited([mouldy.entry(now)], now)

    assert not waited_a_day(0.05)
    assert waited_a_day(24.5)
    assert waited_a_day(-3.0)
