"""Our own clock wrong: who is taken to be wrong, what is stored meanwhile, what is mended."""

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.clock import CorrectedClock, SystemClock, to_ms
from monitor.intake.batch import Writer
from monitor.intake.clock_witnesses import Witnesses, kernel_synchronised
from monitor.intake.decode import Decoder
from monitor.intake.drops import DropWatch
from monitor.intake.inbox import ArrivedMessage, Inbox
from monitor.intake.own_clock import OwnClock
from monitor.intake.trust import TimePolicy
from monitor.intake.upkeep import IntakeUpkeep
from monitor.store.store import Store
from monitor.yard.health import IntakeFaultKind
from monitor.yard.space import Sensor
from tests.real.need import wait_until
from tests.set_clock import SetClock
from tests.tried import tried

TRUE_START = datetime(2026, 1, 10, 3, tzinfo=UTC)
DAY_S = 86400.0
NORTH, SOUTH, LOFT = (f"urn:dev:ops:mill-{place}" for place in ("north", "south", "loft"))


@pytest.fixture
def store(store_url: str) -> Iterator[Store]:
    opened = Store(store_url, "mill")
    yield opened
    opened.close()


class Line:
    """Intake from the inbox on, on a machine whose clock is off by some seconds."""

    def __init__(
        self,
        store: Store,
        off_by_s: float,
        sensors: tuple[str, ...] = (NORTH, SOUTH, LOFT),
        kernel: bool | None = None,
    ) -> None:
        self.store = store
        self.kernel = kernel
        self.off_by_s = off_by_s
        self.machine = SetClock(TRUE_START + timedelta(seconds=off_by_s))
        self.clock = CorrectedClock(self.machine)
        own = OwnClock(self.clock, len(sensors), lambda _: self.kernel)
        decoder = Decoder(
            [Sensor(name=name, space="shed") for name in sensors], TimePolicy(), own_clock=own
        )
        self.inbox = Inbox(100)
        drops = DropWatch(store)
        upkeep = IntakeUpkeep(store, decoder, self.clock, drops, lambda _: None)
        self.writer = Writer(store, decoder, self.inbox, list, lambda _: None, upkeep)
        self.writer.start()

    @property
    def true_ms(self) -> int:
        return to_ms(self.machine.now()) - round(1000 * self.off_by_s)

    def send(self, sensor: str, celsius: float = 3.0, *, clock_off_s: float | None = 0.0) -> int:
        """One message of a sensor, whose own clock is off, or which has none; its true time."""
        self.machine.run_on(timedelta(seconds=10))
        true_ms = self.true_ms
        its_time = "" if clock_off_s is None else f',"t":{true_ms / 1000 + clock_off_s}'
        self._take(sensor, f'[{{"n":"{sensor}:temperature","u":"Cel","v":{celsius}{its_time}}}]')
        return true_ms

    def _take(self, sensor: str, payload: str) -> None:
        now, shifts = self.clock.now_and_shifts()
        before = self.writer.messages
        self.inbox.put_message(
            ArrivedMessage(sensor, payload.encode(), to_ms(now), True, 1, 1, 1, shifts)
        )
        self.inbox.wake_if_any()
        wait_until(lambda: self.writer.messages > before, 10, "the message to be dealt with")

    def send_again(self, sensor: str, true_ms: int, celsius: float) -> None:
        """What a sensor sent at that time comes anew, of a gateway that missed its receipt."""
        time = true_ms / 1000
        self._take(sensor, f'[{{"n":"{sensor}:temperature","u":"Cel","v":{celsius},"t":{time}}}]')

    def set_right(self) -> None:
        self.machine.move(timedelta(seconds=-self.off_by_s))
        self.off_by_s = 0.0

    def times(self) -> list[int]:
        """Times of all that is stored, whatever the series."""
        with self.store.snapshot() as tx:
            keys = [(name, channel) for name, channel in tx.yard_readings.latest_readings()]
            traces = tx.readings.traces_between(keys, 0, 2**60).values()
        return sorted(int(at) for trace in traces for at in trace.at_ms)

    def wait_for(self, times: list[int]) -> None:
        def there() -> bool:
            held = self.times()
            return len(held) == len(times) and all(
                abs(one - other) <= 60_000 for one, other in zip(held, sorted(times), strict=True)
            )

        wait_until(there, 10, f"the times {sorted(times)}; there were {self.times()}")

    def ahead_s(self) -> float:
        with self.store.snapshot() as tx:
            fault = tx.intake_faults.standing_faults().get(IntakeFaultKind.OWN_CLOCK)
        return fault.amount if fault else 0.0

    def blamed(self) -> set[str]:
        with self.store.snapshot() as tx:
            return set(tx.sensor_clocks.wrong_clocks())

    def stop(self) -> None:
        self.writer.stop(10)


@pytest.mark.parametrize("off_by_s", [-DAY_S, -3 * 3600.0, 5 * 3600.0, 200 * DAY_S])
def test_every_reading_is_at_its_true_time_however_wrong_our_clock_is(store, off_by_s):
    line = Line(store, off_by_s)
    # One has no time of its own, and is heard before anybody tells that our clock is wrong.
    times = [line.send(LOFT, clock_off_s=None)]
    times += [line.send(sensor, n) for n in range(4) for sensor in (NORTH, SOUTH)]
    times.append(line.send(LOFT, clock_off_s=None))
    line.wait_for(times)
    wait_until(lambda: line.ahead_s() != 0, 10, "the fault to be told")
    assert line.ahead_s() == pytest.approx(off_by_s, abs=60)
    assert line.blamed() == set()
    line.set_right()
    times += [line.send(sensor, 9, clock_off_s=own) for sensor, own in ((LOFT, None), (NORTH, 0))]
    line.wait_for(times)
    wait_until(lambda: line.ahead_s() == 0, 10, "the fault to end")
    line.stop()


def test_one_sensor_that_is_apart_from_us_and_from_the_others_is_the_one_that_is_wrong(store):
    line = Line(store, 0.0)
    times = []
    for n in range(5):
        times += [line.send(NORTH, n), line.send(SOUTH, n)]
        at = line.send(LOFT, n, clock_off_s=7200.0)
        times += [at] if n >= 2 else []  # its first two are kept aside
    line.wait_for(times)
    assert line.blamed() == {LOFT}
    assert line.ahead_s() == 0
    line.stop()


def test_what_a_gateway_says_again_hours_later_speaks_against_nobody_s_clock(store):
    line = Line(store, 0.0)
    said = [(sensor, line.send(sensor, n), n) for n in range(3) for sensor in (NORTH, SOUTH, LOFT)]
    line.machine.run_on(timedelta(hours=2))
    for sensor, true_ms, celsius in said[-3:]:
        line.send_again(sensor, true_ms, celsius)
    times = [at for _, at, _ in said] + [line.send(sensor, 9) for sensor in (NORTH, SOUTH, LOFT)]
    line.wait_for(times)
    assert line.ahead_s() == 0
    assert line.clock.correction_s == 0
    assert line.blamed() == set()
    line.stop()


def test_where_the_kernel_s_clock_is_kept_right_the_sensors_share_a_wrong_one(store):
    line = Line(store, 0.0, kernel=True)
    for n in range(4):
        for sensor in (NORTH, SOUTH, LOFT):
            line.send(sensor, n, clock_off_s=3600.0)
    assert line.blamed() == {NORTH, SOUTH, LOFT}
    assert line.ahead_s() == 0
    line.stop()


def test_nobody_is_blamed_before_a_second_sensor_has_told_whose_clock_is_wrong(store):
    line = Line(store, -DAY_S)
    times = [line.send(NORTH, n) for n in range(8)]
    assert line.times() == []
    assert line.blamed() == set()
    times += [line.send(SOUTH, n) for n in range(3)]
    line.wait_for(times)  # also what was kept aside until then
    line.stop()


def test_what_a_lone_sensor_was_blamed_for_is_re_timed_once_our_clock_is_set(store):
    line = Line(store, -DAY_S, sensors=(NORTH,))
    times = [line.send(NORTH, n) for n in range(6)]
    assert line.blamed() == {NORTH}
    assert all(at < times[0] - 80_000_000 for at in line.times())  # at false times, so far
    line.set_right()
    times.append(line.send(NORTH, 9))
    line.wait_for(times)
    wait_until(lambda: line.blamed() == set(), 10, "the sensor to be acquitted")
    line.stop()


def test_two_that_were_blamed_and_are_right_together_after_a_restart_were_right_before(store):
    with store.transaction() as tx:
        tx.sensor_clocks.note_clocks({NORTH: DAY_S, SOUTH: DAY_S}, TRUE_START - timedelta(days=1))
    false = Line(store, -DAY_S, sensors=(NORTH,))
    early = [false.send(NORTH, n) for n in range(4)]
    false.stop()
    line = Line(store, 0.0)
    line.machine.run_on(timedelta(hours=1))
    times = [line.send(sensor, n) for n in range(2) for sensor in (NORTH, SOUTH)]
    line.wait_for(early[2:] + times)
    line.stop()


def test_a_clock_set_back_without_a_witness_moves_nothing(store):
    line = Line(store, 0.0)
    times = [line.send(LOFT, n, clock_off_s=None) for n in range(3)]
    line.machine.move(timedelta(hours=-5))
    line.send(LOFT, 9, clock_off_s=None)
    assert line.times()[1:] == times
    line.stop()


@settings(max_examples=tried(40))
@given(
    st.dictionaries(
        st.sampled_from("abcdef"), st.sampled_from([0.0, 7200.0, -7200.0, DAY_S]), min_size=1
    )
)
def test_only_a_large_majority_that_agrees_speaks_against_our_clock(off_s):
    witnesses = Witnesses(len(off_s))
    for sensor, its in off_s.items():
        witnesses.hear_clock(sensor, its, 1.7e9)
    common = witnesses.common_s()
    said = list(off_s.values())
    if common is None:
        assert all(
            its == 0 or said.count(its) < 2 or 3 * said.count(its) <= 2 * len(said) for its in said
        )
    else:
        assert common != 0
        assert said.count(common) >= 2
        assert 3 * said.count(common) > 2 * len(said)


def test_a_corrected_clock_tells_the_machine_s_time_again_once_somebody_sets_it():
    machine = SetClock(TRUE_START)
    clock = CorrectedClock(machine)
    clock.correct_by(DAY_S)
    machine.run_on(timedelta(minutes=5))
    assert clock.now() == TRUE_START + timedelta(days=1, minutes=5)
    machine.move(timedelta(days=1, seconds=2))
    assert clock.now() == machine.now()
    assert clock.correction_s == 0
    assert clock.shifted_since_s(1) == pytest.approx(2.0)
    assert clock.shifted_since_s(0) == pytest.approx(DAY_S + 2.0)


def test_the_kernel_says_nothing_of_a_clock_that_is_not_its_own():
    now = SystemClock().now()
    assert kernel_synchronised(now) in {True, False}
    assert kernel_synchronised(now - timedelta(hours=3)) is None
