"""A disk that fills, one that is full and a damaged file: who is told what."""

import pytest

from monitor.alarms.round import AlarmRound
from monitor.yard.alarm import AlarmState
from monitor.yard.health import StoreCondition
from tests.alarms.scene import MECHANIC, OPERATOR, OWNERS, Scene, yard

WHOLE = 16 * 1024 * 1024
CONDITIONS = [
    (
        StoreCondition(free_bytes=400_000_000, shrinks_bytes_a_day=100_000_000),
        "disk-filling",
        ["400 MB are free", "full on", "Make room"],
    ),
    (
        StoreCondition(free_bytes=4096, reserve_bytes=WHOLE - 4_000_000, reserve_whole_bytes=WHOLE),
        "disk-full",
        ["given up 4.0 MB", "left for alarms", "Make room"],
    ),
    (
        StoreCondition(damage="laidup.db: Page 21: btreeInitPage() returns error code 11"),
        "store-damaged",
        ["Page 21", "last good copy", ".dump"],
    ),
    (
        StoreCondition(rewritten="The record had 40 links when a message was written, and has 38"),
        "record-rewritten",
        ["had 40 links", "with a backup", "laidup verify"],
    ),
]


def states(scene):
    with scene.store.snapshot() as tx:
        return {alarm.cause: alarm.state for alarm in tx.alarms.open_alarms()}


@pytest.mark.parametrize(("condition", "cause", "said"), CONDITIONS, ids=lambda one: str(one)[:12])
def test_the_operator_alone_is_told_with_the_figure_and_the_remedy(
    tmp_path, condition, cause, said
):
    scene = Scene(tmp_path, yard([OPERATOR, MECHANIC, *OWNERS]))
    now = [condition]
    scene.round = AlarmRound(scene.store, scene.yard, scene.clock, condition=lambda: now[0])
    for _ in range(6):
        scene.judge()
        scene.after(minutes=10)
    assert states(scene) == {cause: AlarmState.UNACKNOWLEDGED}
    (message,) = scene.messages()
    assert message.person == OPERATOR.id
    text = " ".join(message.text.replace("\N{NO-BREAK SPACE}", " ").split())
    for words in said:
        assert words in text
    now[0] = StoreCondition(free_bytes=900_000_000)
    scene.after(hours=2)
    scene.judge()
    scene.after(hours=2)
    scene.judge()
    assert states(scene) == {cause: AlarmState.RETURNED}


def test_a_full_disk_takes_over_from_a_filling_one(tmp_path):
    scene = Scene(tmp_path, yard([OPERATOR]))
    now = [CONDITIONS[0][0]]
    scene.round = AlarmRound(scene.store, scene.yard, scene.clock, condition=lambda: now[0])
    scene.judge()
    now[0] = CONDITIONS[1][0]
    for _ in range(3):
        scene.after(hours=1)
        scene.judge()
    assert states(scene) == {
        "disk-full": AlarmState.UNACKNOWLEDGED,
        "disk-filling": AlarmState.SUPPRESSED,
    }
