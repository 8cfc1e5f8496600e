"""An account written again, beside one written anew, over whatever changes between them."""

from copy import deepcopy
from dataclasses import replace
from datetime import timedelta
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.judgement.work_order import order_acts
from monitor.reports import account_parts
from monitor.reports.account import account_json, account_of
from monitor.reports.account_parts import CraftWriter
from monitor.reports.account_writer import AccountWriter
from monitor.reports.picture import compose_picture
from monitor.store.packed_judgements import group_equal
from monitor.yard.frost_facts import FrostFacts
from tests.bench.judgement import NOW, Yardful

TICK = timedelta(microseconds=1)
# Around each time that is said: where it becomes near, passes, and lies a week back.
AROUND = [
    turn + by
    for turn in (-timedelta(days=6), -timedelta(hours=20), timedelta(0), timedelta(days=6))
    for by in (-TICK, timedelta(0), TICK)
]


@cache
def judged_yard():
    yardful = Yardful(8, 2)  # several of one type in each of two spaces
    return yardful, order_acts(yardful.found.assessments_in_order(yardful.yard, NOW), NOW)


class ChangingYard:
    """A yard's judgements, of which some change from one account to the next."""

    def __init__(self):
        yardful, judged = judged_yard()
        self.yard, self.craft, self.judged = yardful.yard, list(yardful.stored), list(judged)
        self.now = NOW

    def picture(self):
        return compose_picture(self.yard, self.craft, self.judged, (), self.now)

    def times(self):
        found = {getattr(one, of) for one in self.judged for of in ("at", "low_at", "deadline")}
        return sorted(found - {None})

    def judge_one(self, n, by_k):
        n %= len(self.judged)
        one = self.judged[n]
        self.judged[n] = replace(one, now_c=one.now_c + by_k, low_c=one.low_c - by_k)

    def judge_all(self, minutes):
        # As a round does: what is judged alike shares all objects, and none with a round before.
        self.judged = [
            each
            for group in group_equal(self.judged)
            for each in replace(
                deepcopy(group.judgement), at=group.judgement.at + timedelta(minutes=minutes)
            ).of_others(group.subjects)
        ]

    def rename_craft(self, n, name):
        n %= len(self.craft)
        self.craft[n] = replace(self.craft[n], name=name)

    def say_otherwise(self, n, why):
        n %= len(self.craft)
        one = self.craft[n]
        said = {key: replace(each, why=why) for key, each in one.protection.items()}
        self.craft[n] = replace(one, protection=said)

    def guess_start(self, n):
        """Their judgement names the craft."""
        n %= len(self.judged)
        facts = self.judged[n].facts
        if isinstance(facts, FrostFacts):
            guessed = replace(facts, start_is_guessed=True, start_at=NOW, came_then=True)
            self.judged = [
                replace(one, facts=guessed) if one.facts is facts else one for one in self.judged
            ]

    def rename_space(self, name):
        first, *others = self.yard.spaces
        self.yard = replace(self.yard, spaces=(replace(first, name=name), *others))

    def be_at(self, n, around):
        self.now = self.times()[n % len(self.times())] + around

    def let_pass(self, minutes):
        self.now += timedelta(minutes=minutes)

    def forget_one(self, n):
        if len(self.judged) > 1:
            self.judged.pop(n % len(self.judged))


numbers, names = st.integers(0, 200), st.text(max_size=12)
changes = st.one_of(
    st.tuples(st.just("judge_one"), numbers, st.floats(-9.0, 9.0)),
    st.tuples(st.just("judge_all"), st.integers(0, 90)),
    st.tuples(st.just("rename_craft"), numbers, names),
    st.tuples(st.just("rename_space"), names),
    st.tuples(st.just("say_otherwise"), numbers, names),
    st.tuples(st.just("guess_start"), numbers),
    st.tuples(st.just("be_at"), numbers, st.sampled_from(AROUND)),
    st.tuples(st.just("let_pass"), st.integers(-60, 60 * 24 * 8)),
    st.tuples(st.just("forget_one"), numbers),
)


@given(st.lists(changes, max_size=12))
@settings(max_examples=60, deadline=None)
def test_an_account_is_the_same_to_the_byte_as_one_written_anew(steps):
    scene, writer = ChangingYard(), AccountWriter()
    for change, *how in [("let_pass", 0), *steps]:
        getattr(scene, change)(*how)
        picture = scene.picture()
        assert writer.write_account(picture) == account_json(account_of(picture))


def test_words_change_at_the_times_that_are_tried():
    # Else the test above would pass with a writer that never looks at the clock.
    scene = ChangingYard()
    written = set()
    for n in range(len(scene.times())):
        for around in AROUND:
            scene.be_at(n, around)
            written.add(account_json(account_of(scene.picture())).partition(b',"yard"')[2])
    assert len(written) > len(scene.times())


@pytest.fixture
def written(monkeypatch):
    """The craft and the parts that were written anew, in order."""
    found = {"craft": [], "parts": []}

    def count_craft(writer, picture, write=CraftWriter.write_craft):
        found["craft"].append(picture.craft.id)
        return write(writer, picture)

    def count_part(craft, seen, names, words, tell=account_parts.account_of_circuit):
        found["parts"].append(seen.subject)
        return tell(craft, seen, names, words)

    monkeypatch.setattr(CraftWriter, "write_craft", count_craft)
    monkeypatch.setattr(account_parts, "account_of_circuit", count_part)
    return found


def test_after_one_judgement_only_its_craft_is_written_anew(written):
    scene, writer = ChangingYard(), AccountWriter()
    writer.write_account(scene.picture())
    assert sorted(written["craft"]) == sorted(one.id for one in scene.craft)
    written["craft"].clear()
    n = next(n for n, one in enumerate(scene.judged) if one.subject.craft == scene.craft[1].id)
    scene.judge_one(n, 0.5)
    writer.write_account(scene.picture())
    assert written["craft"] == [scene.craft[1].id]


def test_after_a_round_what_is_judged_alike_is_written_once(written):
    scene, writer = ChangingYard(), AccountWriter()
    writer.write_account(scene.picture())
    written["parts"].clear()
    scene.judge_all(1)
    picture = scene.picture()
    writer.write_account(picture)
    circuits = [one for each in picture.craft for one in each.circuits]
    assert len(written["parts"]) == len(group_equal(circuits)) < len(circuits)
