"""Signs of life to the service manager (systemd's protocol), which restarts what hangs."""

import logging
import os
import socket
from collections.abc import Mapping

log = logging.getLogger("laidup.delivery")


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
