"""Whether this machine's own clock is right, judged by its kernel and by its sensors.

A sensor that is apart from it may be wrong itself; most sensors apart by one amount are not. Then
laidup goes by theirs until somebody sets the machine's clock.
"""

import logging
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from monitor.clock import CorrectedClock
from monitor.intake.clock_witnesses import SAME_AMOUNT_S, Witnesses, kernel_synchronised
from monitor.intake.inbox import ArrivedMessage
from monitor.yard.reading import Channel

log = logging.getLogger("laidup.intake")

_ALONE_S = 1800.0  # a sensor that no other speaks for or against is believed to be wrong after this
_REMEMBERED = 20_000  # readings that were stored by the time at which they came
_RESOLVED_WITHIN_S = 3600.0  # after a setting: is the clock right now?


class Stamped(NamedTuple):
    """A reading that was stored by the time at which it came, having none of its own."""

    sensor: str
    channel: Channel
    at_ms: int


class Blame(NamedTuple):
    """A sensor whose clock was taken to be wrong: what it sent was stored by our clock."""

    sensor: str
    ahead_s: float
    since: datetime  # by our clock


@dataclass(frozen=True, slots=True, kw_only=True)
class Retiming:
    """Times stamped by a wrong clock, and its error."""

    by_s: float  # later
    since: datetime  # by the wrong clock: from when on it was not known to be right
    stamped: tuple[Stamped, ...] = ()
    blamed: tuple[Blame, ...] = ()


class OwnClock:
    """Watches this machine's clock, and corrects what laidup takes for the time.

    Used by the writer's thread alone.
    """

    def __init__(
        self,
        clock: CorrectedClock,
        sensors: int,
        synchronised: Callable[[datetime], bool | None] = kernel_synchronised,
    ) -> None:
        """Watch a clock for a yard of so many sensors; the kernel is asked by ``synchronised``."""
        self._clock = clock
        self._sensors = sensors
        self._synchronised = synchronised
        self._witnesses = Witnesses(sensors)
        self._since, self._shifts = clock.now_and_shifts()
        self._stamped: deque[Stamped] = deque(maxlen=_REMEMBERED)
        self._apart_since_s: float | None = None
        self._blames: dict[str, Blame] = {}
        self._corrected = False
        self._set: tuple[Retiming, float] | None = None  # by somebody: is it right now?
        self._due: list[Retiming] = []
        self.right = False  # known to be: the kernel or a sensor says so

    def count_sensors(self, sensors: int) -> None:
        """How many sensors the yard has from now on."""
        self._sensors = sensors

    @property
    def ahead_s(self) -> float:
        """By how much this machine is ahead of its sensors [s]; 0 where it is believed."""
        return -self._clock.correction_s

    def hear_message(self, sensor: str, newest_s: float, message: ArrivedMessage) -> None:
        """Take up what a live message says of our clock."""
        self._witnesses.hear_clock(sensor, newest_s - message.arrived_ms / 1000, newest_s)

    def may_blame(self) -> bool:
        """Whether a sensor whose clock differs from ours may count as the wrong one."""
        if self._sensors <= 1 or self._witnesses.any_agrees or self._kernel_says() is True:
            return True
        now_s = self._clock.elapsed_s()
        if self._apart_since_s is None:
            self._apart_since_s = now_s
        return now_s - self._apart_since_s > _ALONE_S

    def blame_sensor(self, sensor: str, ahead_s: float, since: datetime) -> None:
        """A sensor is taken to be wrong, perhaps since an earlier run."""
        before = self._blames.get(sensor)
        if before is None or abs(before.ahead_s - ahead_s) > SAME_AMOUNT_S:
            self._blames[sensor] = Blame(sensor, ahead_s, since)

    def restamp_messages(self, messages: Sequence[ArrivedMessage]) -> list[ArrivedMessage]:
        """Messages with their arrival by the clock as it is now, though they came before."""
        shifts = self._clock.now_and_shifts()[1]
        return [
            message
            if message.shifts == shifts
            else message._replace(
                arrived_ms=message.arrived_ms
                + round(1000 * self._clock.shifted_since_s(message.shifts)),
                shifts=shifts,
            )
            for message in messages
        ]

    def put_right(self) -> bool:
        """Correct our clock where most sensors differ from it by the same amount; True if so."""
        self._notice_setting()
        by_s = self._witnesses.common_s() if self._witnesses.any_differs else None
        if by_s is None or self._kernel_says() is True:
            return False
        self._due.append(self._retiming_by(by_s))
        self._clock.correct_by(by_s)
        self._set = None
        self._begin_anew()
        self._corrected = True
        self.right = False
        log.error(
            "This machine's clock is %.0f s %s the clocks of its sensors: laidup goes by theirs"
            " until it is set.",
            abs(self.ahead_s),
            "ahead of" if self.ahead_s > 0 else "behind",
        )
        return True

    def note_stamped(self, readings: Iterable[Stamped]) -> None:
        """Remember readings that were stored by our clock, in case that it is wrong."""
        self._stamped.extend(readings)

    def collect_retimings(self) -> list[Retiming]:
        """Look whether the clock was set or is known to be right; what is to be re-timed for it.

        What is returned is due until `mark_retimed` is called with it.
        """
        self._notice_setting()
        agreed = self._witnesses.any_agrees and self._witnesses.common_s() is None
        kernel = self._kernel_says()
        if self._set is not None:
            retiming, since_s = self._set
            # What no kernel tells: a clock that is set forward was behind, and is right now.
            if agreed or kernel is True or (kernel is None and retiming.by_s > 0):
                self._due.append(retiming)
                self._set = None
            elif self._clock.elapsed_s() - since_s > _RESOLVED_WITHIN_S:
                self._set = None
        self.right = self._clock.correction_s == 0.0 and (agreed or kernel is True)
        if agreed or kernel is True:
            self._stamped.clear()
            self._since = self._clock.now()
            self._apart_since_s = None
        if agreed:
            self._acquit_sensors()
        return list(self._due)

    def mark_retimed(self, retiming: Retiming) -> None:
        """It has been re-timed."""
        self._due.remove(retiming)

    def _notice_setting(self) -> None:
        now, shifts = self._clock.now_and_shifts()
        if shifts == self._shifts:
            return
        by_s = self._clock.shifted_since_s(self._shifts)
        log.warning("This machine's clock was set: it is %s now.", f"{now:%Y-%m-%d %H:%M:%S} UTC")
        if not self._corrected:  # else what is stored has the sensors' time already
            self._set = (self._retiming_by(by_s), self._clock.elapsed_s())
        self._begin_anew()
        self._corrected = False

    def _retiming_by(self, by_s: float) -> Retiming:
        blamed = [one for one in self._blames.values() if abs(one.ahead_s - by_s) <= SAME_AMOUNT_S]
        for one in blamed:
            del self._blames[one.sensor]
        return Retiming(
            by_s=by_s, since=self._since, stamped=tuple(self._stamped), blamed=tuple(blamed)
        )

    def _acquit_sensors(self) -> None:
        """Forget blames of sensors that agree with us now.

        Two and more that were wrong by one amount and are right together were right before: it
        was our clock, and somebody has set it while laidup was not running.
        """
        for one in list(self._blames.values()):
            same = [
                other
                for other in self._blames.values()
                if abs(other.ahead_s - one.ahead_s) <= SAME_AMOUNT_S
            ]
            if one.sensor in self._blames and all(
                self._witnesses.agrees_with_ours(x.sensor) for x in same
            ):
                for other in same:
                    del self._blames[other.sensor]
                if len(same) > 1:
                    since = self._clock.now()  # nothing that came since has a wrong time
                    self._due.append(Retiming(by_s=one.ahead_s, since=since, blamed=tuple(same)))

    def _begin_anew(self) -> None:
        self._since, self._shifts = self._clock.now_and_shifts()
        self._stamped.clear()
        self._witnesses.forget_all()
        self._apart_since_s = None

    def _kernel_says(self) -> bool | None:
        return self._synchronised(self._clock.machine_now())
