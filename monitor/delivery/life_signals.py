"""Signs of life: service manager, lamp and outside world are shown whether the watch goes on.

One thread each, so that none waits for another. Nobody watches these threads but who looks at the
signs: when one dies it is missed, and that tells.
"""

import logging
import os
import socket
import threading
import time
from collections.abc import Callable, Mapping

from monitor.delivery.annunciator import Annunciator
from monitor.delivery.part_turns import PartTurns
from monitor.delivery.pulse import Pulse
from monitor.yard.health import HealthAccount, HealthFault, HealthFaultKind

log = logging.getLogger("laidup.delivery")

_LAMP_WITHIN_S = 300.0  # without a turn [s]: it asks the store, and waits for nothing else


class LifeSignals:
    """Shows every few seconds how the parts of the daemon are."""

    def __init__(
        self,
        turning: PartTurns,
        *,
        account: Callable[[], HealthAccount],
        lamp: Annunciator | None,
        pulse: Pulse | None,
        every_s: float,
    ) -> None:
        """Make them; nothing is shown yet.

        Parameters
        ----------
        turning : PartTurns
            What hangs is no longer said to be alive.
        account : callable
            How the watch stands. It asks neither the store nor anybody outside, since the beats
            for the service manager wait for it.
        lamp : Annunciator or None
        pulse : Pulse or None
            What pings the outside.
        every_s : float
            How often to show each sign [s].
        """
        self._turning = turning
        self._account = account
        self._lamp = lamp
        self._pulse = pulse
        self._every_s = every_s
        self._service = ServiceManager()
        self._said: dict[
            tuple[HealthFaultKind, str, bool], HealthFault
        ] = {}  # faults that were logged
        self._stopping = threading.Event()
        shown: dict[str, Callable[[], None]] = {"signs": self._report_health}
        if lamp:
            turning.expect_part("lamp", _LAMP_WITHIN_S)
            shown["lamp"] = lambda: self._show_lamp(lamp)
        if pulse:
            shown["ping"] = lambda: self._send_pulse(pulse)
        self._threads = [
            threading.Thread(
                target=self._repeat_until_stopped, args=(show,), name=name, daemon=True
            )
            for name, show in shown.items()
        ]

    def start(self) -> None:
        """Begin, and say that the daemon is ready."""
        if self._lamp:
            self._lamp.start()
        for thread in self._threads:
            thread.start()
        self._service.notify_ready()

    def say_stopping(self) -> None:
        """Tell the service manager that the daemon is about to end."""
        self._service.notify_stopping()

    def stop(self, timeout: float) -> None:
        """Stop, leave the lamp at ``unknown``, and wait so long [s] at most."""
        self._stopping.set()
        end = time.monotonic() + timeout
        for thread in self._threads:
            if thread.is_alive():
                thread.join(max(end - time.monotonic(), 0.0))
        if self._lamp:
            self._lamp.stop()

    def _repeat_until_stopped(self, show: Callable[[], None]) -> None:
        while not self._stopping.wait(self._every_s):
            try:
                show()
            except Exception:
                log.exception("The signs of life failed and will be tried again.")

    def _report_health(self) -> None:
        """Tell log and service manager."""
        account = self._account()
        faults = {fault.key: fault for fault in account.faults if not fault.is_of_start}
        for key, fault in faults.items():
            if key not in self._said:
                level = logging.ERROR if fault.is_grave else logging.WARNING
                log.log(level, "%s %s", fault.what, fault.remedy)
        for key in self._said.keys() - faults.keys():
            log.info("Over: %s", self._said[key].what)
        self._said = faults
        # A restart mends what hangs. It mends no broker and no store: those are only told of.
        hanging = self._turning.hanging_parts().keys() - {"intake"}
        if not hanging and not any(fault.part == "page" for fault in account.faults):
            said = " ".join(fault.what for fault in account.faults)
            self._service.notify_alive(said or "Watching.")

    def _show_lamp(self, lamp: Annunciator) -> None:
        lamp.run_once(self._account())
        self._turning.note_turn("lamp")

    def _send_pulse(self, pulse: Pulse) -> None:
        pulse.run_once(well=not self._account().is_blind)


class ServiceManager:
    """Tells the service manager that started us how we are; does nothing where there is none.

    The protocol is systemd's, sd_notify(3): datagrams to the socket that ``NOTIFY_SOCKET`` names.
    """

    def __init__(self, environment: Mapping[str, str] = os.environ) -> None:
        self._address = environment.get("NOTIFY_SOCKET", "")
        micros = environment.get("WATCHDOG_USEC", "")
        self.watchdog_s = int(micros) / 1e6 if micros.isdigit() else None

    def notify_ready(self) -> bool:
        """We have started."""
        return self._notify("READY=1")

    def notify_alive(self, status: str = "") -> bool:
        """We are well; call it at least twice within ``watchdog_s``."""
        line = " ".join(status.split())
        return self._notify("WATCHDOG=1" + (f"\nSTATUS={line}" if line else ""))

    def notify_stopping(self) -> bool:
        """We are about to stop."""
        return self._notify("STOPPING=1")

    def _notify(self, state: str) -> bool:
        if not self._address:
            return False
        # A leading @ names an abstract socket.
        address = f"\0{self._address[1:]}" if self._address.startswith("@") else self._address
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as line:
                line.sendto(state.encode(), address)
        except OSError as error:
            log.debug("The service manager does not listen: %s.", error)
            return False
        return True
