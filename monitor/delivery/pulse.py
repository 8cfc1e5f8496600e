"""Signs of life to the outside, so that somebody notices when this yard's watch itself is dead.

A ping to any address that expects one: it misses it, and tells people by its own means.
"""

import logging
from dataclasses import dataclass

from monitor.bounded_http import bounded_answer
from monitor.clock import Clock
from monitor.errors import DeliveryError

log = logging.getLogger("laidup.delivery")


@dataclass(frozen=True, slots=True, kw_only=True)
class PulseSettings:
    """Whom to tell that all is well, and how often."""

    url: str
    every_s: float = 300.0
    within_s: float = 20.0  # for the whole ping


class Pulse:
    """Pings an address for as long as the watch is well."""

    def __init__(self, settings: PulseSettings, clock: Clock) -> None:
        self._settings = settings
        self._clock = clock
        self._next_s: float | None = None  # by the clock that nobody sets
        self._failing = False

    def run_once(self, *, well: bool) -> bool:
        """Ping if it is time and the watch is well; True if the ping was taken.

        A watch that is not well keeps silent: that is the message.

        Parameters
        ----------
        well : bool
            Readings come in, rounds run, messages leave.
        """
        now_s = self._clock.elapsed_s()
        if not well or (self._next_s is not None and now_s < self._next_s):
            return False
        self._next_s = now_s + self._settings.every_s
        try:
            _request_status(self._settings)
        except OSError as error:
            if not self._failing:
                log.warning("The outward ping is not taken: %s.", error)
            self._failing = True
            return False
        if self._failing:
            log.info("The outward ping is taken again.")
        self._failing = False
        return True


def check_ping(settings: PulseSettings) -> str:
    """Ping once and tell the answer; to the outside it is a sign of life like any other.

    Raises
    ------
    DeliveryError
        With the answer and what to look at, if pings are not taken.
    """
    try:
        status = _request_status(settings)
    except OSError as error:
        reason = " ".join(f"{type(error).__name__}: {error}".split())[:300]
        raise DeliveryError(
            "ping", f"{reason}; check url, and whether this machine reaches it", permanent=False
        ) from error
    if status >= 300:
        raise DeliveryError(
            "ping",
            f"{settings.url} answers {status}: redirects are not followed; set the final address",
            permanent=False,
        )
    return (
        f"{settings.url} took a ping ({status}). To the service behind it that was a sign of life:"
        " until the daemon runs, more must come, or it will raise the alarm."
    )


def _request_status(settings: PulseSettings) -> int:
    """Ask for the address once; the answer's status, which is no error's.

    Raises
    ------
    OSError
        If nothing answers in time, or with an error.
    """
    with bounded_answer(
        "GET", settings.url, settings.within_s, headers={"user-agent": "laidup"}
    ) as answer:
        answer.raise_for_status()
        return answer.status_code
