"""A past stretch judged again: as it was judged at the time, and without a trace in the store."""

import json
import sqlite3
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

import monitor.replay
from monitor.clock import ReadingsClock
from monitor.craft.craft_stays import Craft, Stay
from monitor.craft.record import CraftRecord
from monitor.judgement.inputs import CraftInCare
from monitor.judgement.round import Round
from monitor.phrases.figures import figures_of
from monitor.replay import Replay
from monitor.settings.load import load_settings
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.yard.assessment import Hazard, Standing
from monitor.yard.reading import Channel, Flag, Reading
from tests.commands.yard_files import copied_yard, fill, laidup
from tests.judgement import scene

TEN = timedelta(minutes=10)
BEGIN, END = scene.local(14, 15), scene.local(15, 9)


@pytest.fixture(scope="module")
def profiles(tmp_path_factory):
    return load_settings(copied_yard(tmp_path_factory.mktemp("profiles"))).profiles


@pytest.fixture(scope="module")
def url(tmp_path_factory):
    url = f"sqlite:///{tmp_path_factory.mktemp('store') / 'yard.db'}"
    migrate(url)
    return url


@pytest.fixture(scope="module")
def store(url, profiles):
    """Cold nights, two craft, and a third that comes in the evening and is moved at night."""
    opened = Store(url, "kettlemoss")
    cold_nights(opened)
    profile, arrived = profiles["pwc-two-stroke"], BEGIN - timedelta(days=30)
    records = (
        *(record(f"osprey-{n}", profile, (arrived, scene.RACK)) for n in range(3)),
        record("osprey", profile, (arrived, scene.RACK)),
        record("teal", profile, (arrived, scene.SHED)),
        record("late", profiles["ballast"], (CAME, scene.SHED), (MOVED, scene.RACK)),
    )
    with opened.transaction() as tx:
        take_in(tx.layup, records, profiles, END)
    yield opened
    opened.close()


@pytest.fixture(scope="module")
def again(store, profiles):
    return replayed(store, profiles)


@pytest.fixture(scope="module")
def watched(again, store, profiles):
    """Every change of standing as a watch would have found it, judging every ten minutes."""
    clock = ReadingsClock(BEGIN)
    craft, judging = CraftInCare(store, profiles, YARD, clock), Round(store, YARD, clock)
    found = []
    while clock.now() <= END:
        found += judging.run(craft.read_now()).changed
        clock.advance_to(clock.now() + TEN)
    assert len(found) > len(again) / 2
    return found


YARD = scene.yard_of(scene.RACK, scene.SHED)
CAME, MOVED = BEGIN + timedelta(hours=2.5), BEGIN + timedelta(hours=9.5)


def put(store, traces):
    with store.transaction() as tx:
        for trace in traces.values():
            tx.reading_writer.add(
                Reading(
                    sensor=trace.sensor,
                    channel=trace.channel,
                    at_ms=int(at),
                    value=float(value),
                    raw=float(value),
                    flag=Flag(int(flag)),
                )
                for at, value, flag in zip(trace.at_ms, trace.value, trace.flag, strict=True)
            )


def cold_nights(store, mean_c=1.5):
    """Five nights, the last the coldest; damp air on the rack."""
    since = BEGIN - timedelta(days=4)
    for space, warmer in ((scene.RACK, 0.0), (scene.SHED, 2.0)):
        name = f"air-{space.id}"
        course = lambda h, up=warmer: (  # noqa: E731
            mean_c + up + 5.0 * np.cos(2 * np.pi * (h - 2.0) / 24.0) - 0.02 * h
        )
        put(store, scene.trace(name, Channel.TEMPERATURE, course, since, END))
        damp = lambda h: 82.0 - 4.0 * np.cos(2 * np.pi * (h - 2.0) / 24.0)  # noqa: E731
        put(store, scene.trace(name, Channel.HUMIDITY, damp, since, END))


def record(craft_id, profile, *stays):
    came = stays[0][0]
    return CraftRecord(
        craft=Craft(id=craft_id, name=craft_id.title(), profile=profile.id, arrived_at=came),
        profile=profile,
        stays=tuple(
            Stay(craft=craft_id, since=since, space=space.id, by="Ada") for since, space in stays
        ),
    )


def replayed(store, profiles, every=TEN, since=BEGIN, until=END):
    return list(Replay(store, YARD, profiles, every).run(since, until))


def subject(change):
    return subject_of(change.judged)


def subject_of(a):
    return (a.hazard, a.subject.craft or a.subject.space, a.subject.part)


def test_it_finds_what_the_watch_found_at_the_time(again, watched):
    then, now = {}, {}
    for each in watched:
        then.setdefault(subject_of(each), []).append(each)
    for each in again:
        now.setdefault(subject(each), []).append(each.judged)
    assert len(watched) > 40
    assert then.keys() == now.keys()
    for key, seen in then.items():
        moments = {(each.at, each.standing) for each in seen}
        for each in now[key]:
            assert (each.at, each.standing) in moments
        # What came and went between two whole hours may be missing; nothing else is.
        for hour in range(19):
            at = BEGIN + timedelta(hours=hour)
            assert standing_at(seen, at) is standing_at(now[key], at), (key, at)


def standing_at(seen, at):
    past = [each for each in seen if each.at <= at]
    return past[-1].standing if past else None


def test_the_numbers_are_those_of_the_same_judgement(again, watched):
    known = {(*subject(each), each.judged.at): each.judged for each in again}
    both = [
        (each, known[*subject_of(each), each.at])
        for each in watched
        if (*subject_of(each), each.at) in known
    ]
    assert len(both) > 30
    for then, now in both:
        assert now.now_c == pytest.approx(then.now_c, abs=0.05, nan_ok=True)
        assert now.limit_c == pytest.approx(then.limit_c, abs=0.05, nan_ok=True)


def test_craft_of_one_kind_are_told_one_by_one_each_with_its_own_record(again, watched):
    reasons = {(*subject_of(each), each.at): each.facts for each in watched}
    frost = [each.judged for each in again if each.judged.hazard is Hazard.FROST]
    assert {each.subject.craft for each in frost} >= {"osprey", "osprey-0", "osprey-1", "teal"}
    for each in frost:
        reason = reasons.get((*subject_of(each), each.at))
        assert reason is None or each.facts.basis.split(";")[0] == reason.basis.split(";")[0]
        assert "\0" not in each.facts.basis


@pytest.mark.parametrize("every", [TEN, timedelta(hours=1)])
def test_looks_followed_together_find_what_each_finds_alone(store, profiles, monkeypatch, every):
    together = replayed(store, profiles, every)
    monkeypatch.setattr(monitor.replay, "_TOGETHER", timedelta())
    alone = replayed(store, profiles, every)
    assert len(alone) > 20
    assert [told(each) for each in together] == [told(each) for each in alone]
    for one, other in zip(together, alone, strict=True):
        assert figures_of(one.judged) == pytest.approx(figures_of(other.judged), rel=1e-9, abs=1e-9)
        assert one.judged.margin_k == pytest.approx(other.judged.margin_k, abs=1e-9, nan_ok=True)


def told(change):
    judged = change.judged
    # Floats of facts are compared as figures: looks together add up in another order.
    act = getattr(judged.facts, "act", "")
    said = (act, judged.calls_for_act, judged.certainty, judged.urgency, judged.severity)
    return (subject(change), judged.at, change.was, judged.standing, said, change.craft)


def test_the_store_is_left_as_it_was(store, profiles, url):

    def content():
        with sqlite3.connect(url.removeprefix("sqlite:///")) as connection:
            return list(connection.iterdump())

    before = content()
    assert replayed(store, profiles)
    assert content() == before


def test_changes_come_in_time_order_and_each_from_where_the_last_led(again):
    times = [each.judged.at for each in again]
    assert times == sorted(times)
    last = {}
    for each in again:
        assert each.was is last.get(subject(each))
        assert each.judged.standing is not each.was
        last[subject(each)] = each.judged.standing


def test_a_finer_step_tells_the_time_of_a_change_more_exactly(again, store, profiles):
    coarse = timedelta(hours=3)
    icing = {
        every: min(
            each.judged.at
            for each in changes
            if each.judged.standing is Standing.ICING and each.was is not None
        )
        for every, changes in ((TEN, again), (coarse, replayed(store, profiles, coarse)))
    }
    assert timedelta() <= icing[coarse] - icing[TEN] < coarse


def test_halves_of_a_stretch_end_where_the_whole_ends(again, store, profiles):
    middle = BEGIN + timedelta(hours=13)
    whole = {subject(each): each.judged.standing for each in again}
    second = {
        subject(each): each.judged.standing for each in replayed(store, profiles, since=middle)
    }
    frost = [key for key in whole if key[0] is Hazard.FROST]
    assert frost
    assert {key: whole[key] for key in frost} == {key: second[key] for key in frost}


def test_a_craft_counts_from_its_arrival_and_where_it_then_stands(again):
    mine = [each.judged for each in again if each.judged.subject.craft == "late"]
    assert CAME <= mine[0].at <= CAME + TEN
    assert {each.subject.space for each in mine if each.at < MOVED} == {"long-shed"}
    assert {each.subject.space for each in mine if each.at >= MOVED + TEN} <= {"lee-rack"}


def test_a_step_must_lead_somewhere(store, profiles):
    with pytest.raises(ValueError, match="steps of"):
        Replay(store, YARD, profiles, timedelta())


@pytest.fixture(scope="module")
def config(tmp_path_factory):
    path = copied_yard(tmp_path_factory.mktemp("yard"))
    fill(path)
    return str(path)


def hours_ago(hours):
    return (datetime.now(UTC) - timedelta(hours=hours)).isoformat(timespec="minutes")


def test_the_command_tells_days_spaces_craft_and_numbers(config, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "200")
    assert laidup("replay", "--config", config, "--from", hours_ago(20)) == 0
    said = capsys.readouterr().out
    for words in ("Lee Rack", "ice at", "changes of standing", "nothing in the store was touched"):
        assert words in said


def test_json_is_one_object_a_line_and_can_go_to_a_file(config, capsys, tmp_path):
    out = tmp_path / "again.jsonl"
    since = hours_ago(6)
    flags = ("replay", "--config", config, "--from", since, "--to", hours_ago(1), "--json")
    assert laidup(*flags) == 0
    printed = capsys.readouterr().out
    assert laidup(*flags, "--out", str(out)) == 0
    assert capsys.readouterr().out == ""
    lines = [json.loads(line) for line in out.read_text(encoding="utf-8").splitlines()]
    assert lines
    assert lines == [json.loads(line) for line in printed.splitlines()]
    for line in lines:
        assert line["basis"]
        assert datetime.fromisoformat(line["at"]).utcoffset() == timedelta()
        assert line["standing"] != line["was"]


@pytest.mark.parametrize(
    ("flags", "said"),
    [
        (("--from", "someday"), "'someday' is no time"),
        (("--from", "2026-11-14T16:00", "--to", "2026-11-14T15:00"), "must be before --to"),
        (("--from", "2026-11-14T16:00", "--to", "2099-01-01T00:00"), "lies ahead"),
        (("--from", "2026-11-14T16:00", "--every", "0min"), "between 1min and 24h"),
        (("--from", "2026-11-14T16:00", "--every", "soon"), "soon"),
    ],
)
def test_what_cannot_be_replayed_is_refused_with_its_flag(config, capsys, flags, said):
    assert laidup("replay", "--config", config, *flags) == 2
    assert said in capsys.readouterr().err


def test_a_file_that_cannot_be_written_is_told(config, capsys, tmp_path):
    gone = str(tmp_path / "no" / "such" / "folder")
    assert laidup("replay", "--config", config, "--from", hours_ago(2), "--out", gone) == 1
    assert "--out" in capsys.readouterr().err
