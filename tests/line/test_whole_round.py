"""A round counts as had once it has told what it judged, and not before."""

from types import SimpleNamespace

import pytest

from monitor.clock import ReadingsClock
from monitor.daemon.pace import USUAL_PACE
from monitor.daemon.watching import WatchLoop
from monitor.delivery.part_turns import PartTurns
from tests.alarms.scene import FOUR


def make_loop(tell):
    return WatchLoop(
        judgement=SimpleNamespace(run=lambda *_: SimpleNamespace(count=0)),
        alarms=SimpleNamespace(run=tell),
        all_well=SimpleNamespace(run=lambda: 0),
        arrivals=SimpleNamespace(run=lambda _: False),
        craft=SimpleNamespace(read_now=list),
        clock=ReadingsClock(FOUR),
        pace=USUAL_PACE,
        turning=PartTurns({"watch": 600.0}),
        wake_couriers=lambda: None,
    )


def test_a_round_counts_once_it_has_told_what_it_judged():
    seen = []
    loop = make_loop(lambda _: seen.append(loop.judged_at) or SimpleNamespace(messages=1))
    loop.judge_and_tell()
    assert seen == [None]
    assert loop.judged_at == FOUR


def test_a_round_that_could_tell_nobody_does_not_count():
    def refuse(_):
        raise OSError("the store takes nothing")

    loop = make_loop(refuse)
    with pytest.raises(OSError, match="takes nothing"):
        loop.judge_and_tell()
    assert loop.judged_at is None


@pytest.mark.parametrize("library", [SimpleNamespace(), None], ids=["without-it", "real"])
def test_memory_is_given_back_where_the_c_library_can_and_nothing_fails_where_not(
    monkeypatch, library
):
    monkeypatch.setattr("monitor.daemon.watching._TRIM_EVERY_S", 0.0)
    if library is not None:
        monkeypatch.setattr("monitor.daemon.watching.ctypes.CDLL", lambda _: library)
    loop = make_loop(lambda _: SimpleNamespace(messages=0))
    loop.judge_and_tell()
    assert loop.judged_at == FOUR
