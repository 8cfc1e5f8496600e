"""An account written again, beside one written anew, over whatever changes between them."""

from dataclasses import replace
from datetime import timedelta
from functools import cache

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.judgement.work_order import order_acts
from monitor.reports import account_writer
from monitor.reports.account import account_json, account_of
from monitor.reports.account_writer import AccountWriter
from monitor.reports.picture import compose_picture
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
    yardful = Yardful(3, 3)
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
        self.judged = [replace(one, at=one.at + timedelta(minutes=minutes)) for one in self.judged]

    def rename_craft(self, n, name):
        self.craft[n % 3] = replace(self.craft[n % 3], name=name)

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


def test_after_one_judgement_only_its_craft_is_written_anew(monkeypatch):
    written = []

    def count(picture, names, words, write=account_writer.account_of_craft):
        written.append(picture.craft.id)
        return write(picture, names, words)

    monkeypatch.setattr(account_writer, "account_of_craft", count)
    scene, writer = ChangingYard(), AccountWriter()
    writer.write_account(scene.picture())
    assert sorted(written) == sorted(one.id for one in scene.craft)
    written.clear()
    n = next(n for n, one in enumerate(scene.judged) if one.subject.craft == scene.craft[1].id)
    scene.judge_one(n, 0.5)
    writer.write_account(scene.picture())
    assert written == [scene.craft[1].id]
