"""Whether a sensor's own clock can be believed, and what to do where it cannot."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from monitor.clock import Clock, ReadingsClock, from_ms
from monitor.errors import PayloadError
from monitor.intake.inbox import ArrivedMessage
from monitor.intake.own_clock import OwnClock
from monitor.store.intake_state import WrongClock
from monitor.wording import span_in_words

# No reading that reaches this program can be older: a clock that says so was never set.
_UNSET_BEFORE_S = datetime(2020, 1, 1, tzinfo=UTC).timestamp()
_SAME_CLOCK_S = 120.0  # a clock that is wrong by the same amount as before, give or take
_NEVER_SET_S = 2000 * 86400.0  # behind by years: it counts from some day of its maker's
_LATEST_S = 1e11  # thousands of years: beyond, no calendar has a date
_PROVEN = 3  # messages in a row that are wrong by the same amount
_DRIFTED_S = 60.0  # worth telling, not yet worth mending
_DAY_S = 86400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TimePolicy:
    """Which times are taken as they come.

    A time is compared with the arrival of its message. Where readings drive the clock, as in a
    replay or the demo, arrival says nothing about them, and every time is taken.
    """

    compared: bool = True
    ahead_s: float = 300.0  # the future: no sensor measures it
    behind_s: float = 30 * _DAY_S  # a logger's backlog may be late, but no more than this


AS_THEY_COME = TimePolicy(compared=False)


def policy_of(clock: Clock) -> TimePolicy:
    """A clock that readings drive cannot tell that one of them is in the future."""
    return AS_THEY_COME if isinstance(clock, ReadingsClock) else TimePolicy()


class _Suspicion:
    """A clock that is wrong by some amount, and how often it has said so."""

    def __init__(self, off_s: float) -> None:
        self.off_s = off_s
        self.times = 0
        self._newest_s = float("-inf")

    def count_message(self, newest_s: float) -> None:
        """Count a message; a repeat of an earlier one proves nothing."""
        if newest_s > self._newest_s:
            self._newest_s = newest_s
            self.times += 1


class Clocks:
    """What is known of the sensors' clocks."""

    def __init__(self, policy: TimePolicy, own: OwnClock | None = None) -> None:
        """``own``: watches our own clock, where it can be corrected."""
        self._policy = policy
        self.own = own if policy.compared else None
        self._wrong_by_s: dict[str, float] = {}
        self._suspected: dict[str, _Suspicion] = {}
        self._kept: dict[str, float] = {}  # what the store knows of those that are wrong

    def recall_wrong(self, wrong: Mapping[str, WrongClock]) -> None:
        """Take up what is stored of clocks that are wrong, so that one put right is noticed."""
        ahead_s = {sensor: clock.ahead_s for sensor, clock in wrong.items()}
        self._kept = dict(ahead_s)
        if self.own is not None:
            for sensor, clock in wrong.items():
                self.own.blame_sensor(sensor, clock.ahead_s, clock.since)
        self._wrong_by_s = {**ahead_s, **self._wrong_by_s}

    def acquit_all(self) -> None:
        """Our own clock was wrong: those that were never set alone stay in doubt."""
        self._suspected.clear()
        never_set = self._wrong_by_s.items()
        self._wrong_by_s = {name: off_s for name, off_s in never_set if off_s < -_NEVER_SET_S}

    def hear_message(self, sensor: str, newest_s: float, message: ArrivedMessage) -> None:
        """Let a live message speak for our own clock, or against it."""
        if self.own is not None and newest_s >= _UNSET_BEFORE_S:
            self.own.hear_message(sensor, newest_s, message)

    def clock_news(self) -> dict[str, float | None]:
        """What the store does not yet know: by how much clocks are ahead [s]; None: right again."""
        if not self._wrong_by_s and not self._kept:
            return {}
        news: dict[str, float | None] = {
            sensor: off_s
            for sensor, off_s in self._wrong_by_s.items()
            if sensor not in self._kept or abs(off_s - self._kept[sensor]) > _SAME_CLOCK_S
        }
        return news | {sensor: None for sensor in self._kept if sensor not in self._wrong_by_s}

    def note_stored(self, news: Mapping[str, float | None]) -> None:
        """The store knows it now."""
        for sensor, off_s in news.items():
            if off_s is None:
                del self._kept[sensor]
            else:
                self._kept[sensor] = off_s

    def believed_range(self, arrived_ms: int) -> tuple[float, float]:
        """Earliest and latest time that is taken as it comes in a message that arrived then [s]."""
        if not self._policy.compared:
            return 0.0, _LATEST_S
        arrived_s = arrived_ms / 1000
        return max(0.0, arrived_s - self._policy.behind_s), arrived_s + self._policy.ahead_s

    def shift_for(self, sensor: str, newest_s: float, message: ArrivedMessage) -> float:
        """By how much to shift a sensor's times [s], so that its newest one is its arrival.

        Only a clock that is certainly wrong is put right, in the future or never set; only after
        three messages in a row that are wrong by the same amount; and only in a message that was
        sent just now. The shift of one clock stays the same, so that a repeat of the same message
        gives the same times.

        Parameters
        ----------
        sensor : str
        newest_s : float
            Latest of its times in this message.
        message : ArrivedMessage

        Raises
        ------
        PayloadError
            If its times can be neither believed nor put right.
        """
        arrived_s = message.arrived_ms / 1000
        off_s = newest_s - arrived_s
        if message.live:
            self.hear_message(sensor, newest_s, message)
        set_once = newest_s >= _UNSET_BEFORE_S
        if off_s > self._policy.ahead_s:
            wrong = f"its clock is {span_in_words(off_s)} ahead"
        elif not set_once:
            wrong = "its clock was never set"
        else:
            raise PayloadError(
                f"its time is {span_in_words(-off_s)} ago; if that is right, bring it in with"
                " `laidup import readings`",
                field=sensor,
            )
        if not message.live:
            raise PayloadError(
                f"{wrong}, and how long the message waited is not known", field=sensor
            )
        suspicion = self._suspected.get(sensor)
        if suspicion is None or abs(suspicion.off_s - off_s) > _SAME_CLOCK_S:
            suspicion = self._suspected[sensor] = _Suspicion(off_s)
        suspicion.count_message(newest_s)
        if set_once and self.own is not None:
            # One that was found wrong by this much in an earlier run is not put in doubt again.
            known_s = self._kept.get(sensor, math.inf)
            if abs(known_s - off_s) > _SAME_CLOCK_S and not self.own.may_blame():
                raise PayloadError(
                    f"{wrong}, or laidup's own is behind: no other sensor has told yet which",
                    field=sensor,
                )
            self.own.blame_sensor(sensor, suspicion.off_s, from_ms(message.arrived_ms))
        self._wrong_by_s[sensor] = suspicion.off_s
        if suspicion.times < _PROVEN:
            raise PayloadError(
                f"{wrong}; if it goes on so, its times will be put right", field=sensor
            )
        return -suspicion.off_s

    def worth_noting(self, newest_s: float, arrived_ms: int) -> bool:
        """Whether a time that is believed says something about its clock all the same."""
        return self._policy.compared and (
            newest_s - arrived_ms / 1000 > _DRIFTED_S or bool(self._wrong_by_s)
        )

    def note_clock(self, sensor: str, newest_s: float, message: ArrivedMessage) -> None:
        """Watch a clock that is still believed: an honest one is never ahead."""
        off_s = newest_s - message.arrived_ms / 1000
        if message.live and off_s > _DRIFTED_S:
            self._wrong_by_s[sensor] = off_s
        elif message.live and abs(off_s) < _DRIFTED_S:
            self._wrong_by_s.pop(sensor, None)

    def in_words(self) -> list[str]:
        """One sentence for each clock that is wrong."""
        wrong = sorted(self._wrong_by_s.items())
        return [f"The clock of {sensor} is {wrong_by(off_s)}." for sensor, off_s in wrong]


def wrong_by(off_s: float) -> str:
    """Write ``3 hours ahead``."""
    if off_s < -_NEVER_SET_S:
        return "not set"
    return f"{span_in_words(abs(off_s))} {'ahead' if off_s > 0 else 'behind'}"
