"""A claim's case: the nights near a circuit's limit, who knew, what was done, what nobody saw."""

import json
from datetime import UTC, date, datetime, timedelta

import pytest

from monitor.alarms.acts.alarm_acts import AlarmActs
from monitor.clock import ReadingsClock
from monitor.craft.layup import FindingKind, Seen
from monitor.craft.protection import LayupState
from monitor.phrases.names import plain
from monitor.reports.case_lines import case_json, case_lines
from monitor.reports.circuit_case import circuit_of_part, findings_of, read_circuit_case
from monitor.reports.circuit_nights import CircuitNight, nights_near_limit, read_circuit_nights
from monitor.reports.season.figures import NightVerdict
from monitor.reports.season.read_season import read_season_figures, season_of
from monitor.store.entering import enter
from monitor.wording import Wording
from monitor.yard.assessment import Standing
from monitor.yard.readers import words_for
from tests.craft.scene import work
from tests.web.played_night import play_night

HEAD = "cylinder-passages"
LATER = timedelta(days=2)
CRACK = Seen(id="k2-head", part=HEAD, words="cracked in May", kind=FindingKind.CRACK)


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """The demo's yard from the evening before its first hard night to the evening after."""
    return play_night(tmp_path_factory.mktemp("played"))


def read(played, craft="k2", circuit=HEAD, finding=None, after=LATER):
    with played.store.snapshot() as tx:
        record = tx.layup.record_of(craft, played.settings.profiles)
        return read_circuit_case(
            tx, played.settings.yard, record, circuit, played.clock.now() + after, finding
        )


def test_a_night_that_comes_near_an_unproven_circuit_is_told_with_what_was_left(played):
    """The mild night before the hard one: the shed's air stayed half a degree above freezing."""
    night = [one for one in read(played).near if one.air_low_c is not None][-1]
    assert night.held.state is not LayupState.PROVEN
    assert night.held_c == 0.0
    assert 0.0 < night.air_low_c < 2.0
    assert not night.is_past_limit


@pytest.mark.parametrize(
    ("verdict", "judged", "near", "past", "unseen"),
    [
        (NightVerdict.ICE, Standing.SOLID, True, True, False),
        (NightVerdict.PASSED, None, True, True, False),
        (NightVerdict.NEAR, Standing.THIN, True, False, False),
        (NightVerdict.HELD, Standing.HOLDING, False, False, False),
        (NightVerdict.NOT_KNOWN, None, False, False, True),
        (NightVerdict.NOT_KNOWN, Standing.EXPOSED, True, False, True),
    ],
)
def test_near_past_and_unseen_are_three_things(verdict, judged, near, past, unseen):
    night = CircuitNight(
        evening=date(2026, 11, 14), space="long-shed", said=None, air_low_c=None,
        inside_low_c=None, inside_is_read=False, held=None, judged=judged, verdict=verdict,
        unseen_h=0.0,
    )  # fmt: skip
    assert (night.is_near_limit, night.is_past_limit, night.is_unseen) == (near, past, unseen)


def test_a_claim_and_the_season_record_say_one_thing_of_a_night(played):
    now, yard = played.clock.now() + LATER, played.settings.yard
    with played.store.snapshot() as tx:
        [whole] = read_season_figures(
            tx, yard, played.settings.profiles, ["k2"], season_of(now, yard), now, "test"
        )
        record = tx.layup.record_of("k2", played.settings.profiles)
        of_part = {
            part: {
                one.evening: one for one in read_circuit_case(tx, yard, record, part, now).nights
            }
            for part in whole.craft.circuits
        }
    assert {one.verdict for one in whole.nights} > {NightVerdict.NOT_KNOWN}
    for night in whole.nights:
        if night.circuit and night.verdict is not NightVerdict.NOT_KNOWN:
            same = of_part[night.circuit][night.evening]
            assert (same.air_low_c, same.inside_low_c) == (night.low_c, night.inside_low_c)
            assert same.held_c == night.ice_point_c
        order = list(NightVerdict)
        worst = min((one[night.evening].verdict for one in of_part.values()), key=order.index)
        assert worst is night.verdict


def test_a_night_that_a_proven_circuit_stood_is_not_among_them(played):
    """Teal was run through and read at -30 °C: 24 K to spare on the same night."""
    case = read(played, "k1")
    assert case.nights
    assert not [one for one in case.near if one.air_low_c is not None]
    assert all(one.room_k is None or one.room_k > 15.0 for one in case.nights)


def test_what_was_expected_stands_beside_what_came(played):
    said = [one.said for one in read(played).nights if one.said is not None]
    for one in said:
        assert one.cold_c <= one.expected_c <= one.warm_c


def test_who_was_told_and_whether_it_was_taken_on(played):
    case = read(played)
    assert case.alarms
    assert all(one.alarm.part == HEAD for one in case.alarms)
    assert case.messages
    lines = case_lines(case, played.settings.yard, Wording(now=played.clock.now()))
    assert any("nobody took it on" in one.line for one in lines.alarms)
    first = case.alarms[-1].alarm
    AlarmActs(played.store, ReadingsClock(played.clock.now())).acknowledge(first.id, "ines")
    again = case_lines(read(played), played.settings.yard, Wording(now=played.clock.now()))
    assert any("by ines" in one.line or "Ines" in one.line for one in again.alarms)


def test_an_owner_reads_who_was_told_but_not_of_which_other_craft(played):
    case = read(played)
    subjects = {plain(one.subject, limit=200) for one in case.messages if one.subject}
    words = Wording(now=played.clock.now())
    to_staff = case_lines(case, played.settings.yard, words).messages
    to_owner = case_lines(case, played.settings.yard, words, with_subjects=False).messages
    assert all(any(subject in line for line in to_staff) for subject in subjects)
    assert subjects
    assert len(to_owner) == len(to_staff)
    assert not any(subject in line for subject in subjects for line in to_owner)


def test_hours_without_a_reading_are_told_as_gaps(played):
    """The craft stood there for two weeks before the first reading: nobody watched then."""
    case = read(played)
    assert case.gaps
    assert case.gaps[0].until > case.gaps[0].since
    assert case.unseen or all(one.air_low_c is not None for one in case.nights)


def test_an_unseen_night_is_neither_near_nor_called_safe(played):
    for one in read(played).nights:
        if one.air_low_c is None and one.inside_low_c is None and one.judged is None:
            assert one.is_unseen
            assert not one.is_near_limit


def test_a_corrected_entry_stands_with_both_versions(played):
    profiles, now = played.settings.profiles, played.clock.now()
    wrong = work("drained", 0, HEAD, at=now - timedelta(hours=3), craft="k2", by="tom")
    right = work(
        "drained", 0, HEAD, at=now - timedelta(hours=3), craft="k2", by="tom", dry=True,
        replaces=wrong.id,
    )  # fmt: skip
    with played.store.transaction() as tx:
        record = tx.layup.record_of("k2", profiles)
        for entry in (wrong, right):
            enter(tx.layup, [entry], {record.profile.id: record.profile}, now, "test")
    case = read(played)
    [told] = [
        one for one in case.work if one.versions[0].entry and one.versions[0].entry.id == wrong.id
    ]
    assert [event.entry.id for event in told.versions] == [wrong.id, right.id]
    lines = case_lines(case, played.settings.yard, words_for(played.settings.yard, now))
    [line] = [one for one in lines.work if "seen dry" in one.line]
    assert line.more
    assert line.more[0].startswith("Before: ")


def test_a_finding_opens_the_case_of_its_circuit_and_ends_the_nights(played):
    profiles, now = played.settings.profiles, played.clock.now()
    entry = work(
        "inspected", 0, at=now - timedelta(hours=1), craft="k2", by="tom", findings=(CRACK,)
    )
    with played.store.transaction() as tx:
        record = tx.layup.record_of("k2", profiles)
        enter(tx.layup, [entry], {record.profile.id: record.profile}, now, "test")
        record = tx.layup.record_of("k2", profiles)
    [finding] = [one for one in findings_of(record, now) if one.seen.id == CRACK.id]
    assert circuit_of_part(finding.seen.part, record.profile) == HEAD
    case = read(played, finding=finding)
    assert case.until == finding.found_at
    told = case_lines(case, played.settings.yard, words_for(played.settings.yard, now))
    assert "cracked in May" in told.found
    told_whole = json.dumps(case_json(case))
    assert "cracked in May" in told_whole


def test_what_the_command_tells_says_nothing_of_guilt(played):
    case = read(played)
    lines = case_lines(
        case, played.settings.yard, words_for(played.settings.yard, played.clock.now())
    )
    whole = repr(lines).lower()
    for word in ("fault", "guilty", "negligen", "guarantee", "caused"):
        assert word not in whole


def test_nights_before_it_came_are_not_its(played):
    with played.store.snapshot() as tx:
        record = tx.layup.record_of("k2", played.settings.profiles)
        nights = read_circuit_nights(
            tx, played.settings.yard, record, HEAD,
            datetime(2026, 1, 1, tzinfo=UTC), played.clock.now() + LATER,
        )  # fmt: skip
    arrived = record.craft.arrived_at.astimezone(played.settings.yard.zone).date()
    assert min(one.evening for one in nights) >= arrived
    assert set(map(id, nights_near_limit(nights))) <= set(map(id, nights))
