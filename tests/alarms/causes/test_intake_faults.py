"""A wrong clock of laidup's own and a broker that drops are told to the operator, once."""

from datetime import timedelta

import pytest

from monitor.yard.alarm import AlarmState
from monitor.yard.health import IntakeFaultKind
from tests.alarms.scene import MECHANIC, OPERATOR, OWNERS, Scene, yard


def note(scene: Scene, kind: IntakeFaultKind, amount: float) -> None:
    with scene.store.transaction() as tx:
        tx.intake_faults.note_fault(kind, amount, scene.clock.now())


def states(scene: Scene) -> dict[str, AlarmState]:
    with scene.store.snapshot() as tx:
        return {alarm.cause: alarm.state for alarm in tx.alarms.open_alarms()}


@pytest.mark.parametrize(
    ("kind", "amount", "said"),
    [
        (IntakeFaultKind.OWN_CLOCK, -86_400.0, "24 hours behind the clocks of its sensors"),
        (IntakeFaultKind.OWN_CLOCK, 10_800.0, "3 hours ahead of the clocks of its sensors"),
        (IntakeFaultKind.FOREIGN_TOPIC, 3, "3 messages claimed a sensor"),
        (IntakeFaultKind.FOREIGN_TOPIC, 3, "change that user's password at the broker"),
        (IntakeFaultKind.BROKER_DROPS, 2078, "to 5,156 or to 0, which is no limit"),
    ],
)
def test_the_operator_alone_is_told_once_with_the_number_and_the_act(tmp_path, kind, amount, said):
    scene = Scene(tmp_path, yard([OPERATOR, MECHANIC, *OWNERS]))
    scene.after(hours=17)  # by day
    note(scene, kind, amount)
    for _ in range(30):
        scene.judge()
        scene.after(minutes=10)
    (message,) = scene.messages()
    assert message.person == OPERATOR.id
    assert said in " ".join(message.text.split())


def test_a_clock_that_is_right_again_and_a_day_without_drops_end_it(tmp_path):
    scene = Scene(tmp_path, yard([OPERATOR]))
    note(scene, IntakeFaultKind.OWN_CLOCK, -86_400.0)
    note(scene, IntakeFaultKind.BROKER_DROPS, 5)
    scene.judge()
    assert set(states(scene)) == {"own-clock", "broker-drops"}
    with scene.store.transaction() as tx:
        tx.intake_faults.clear_fault(IntakeFaultKind.OWN_CLOCK)
    for _ in range(3):
        scene.judge()
        scene.after(minutes=10)
    assert states(scene)["own-clock"] is AlarmState.RETURNED
    assert states(scene)["broker-drops"] is AlarmState.UNACKNOWLEDGED
    scene.clock.advance_to(scene.clock.now() + timedelta(hours=25))
    scene.judge()
    assert states(scene)["broker-drops"] is AlarmState.RETURNED


def test_who_goes_on_sending_as_another_after_a_start_is_told_once_and_over_when_gone(tmp_path):
    scene = Scene(tmp_path, yard([OPERATOR]))
    scene.after(hours=17)
    kind = IntakeFaultKind.FOREIGN_TOPIC

    def claim():
        with scene.store.transaction() as tx:
            tx.intake_faults.count_more(kind, 1, scene.clock.now())

    def start_again():
        with scene.store.transaction() as tx:
            tx.intake_faults.clear_fault(kind)

    claim()
    scene.judge()
    start_again()
    for _ in range(3):
        scene.judge()
        scene.after(minutes=10)
    claim()
    scene.judge()
    assert states(scene) == {"foreign-sender": AlarmState.UNACKNOWLEDGED}
    start_again()  # with the tie put right: nobody claims it any more
    for _ in range(8):
        scene.judge()
        scene.after(minutes=10)
    assert states(scene)["foreign-sender"] is AlarmState.RETURNED
    subjects = [one.subject for one in scene.messages()]
    assert len([one for one in subjects if "sensor's name" in one]) == 1
