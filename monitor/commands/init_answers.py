"""The answers that ``laidup init`` works with: asked for at a terminal until each will do."""

import getpass
import os
import socket
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from monitor.commands.access.folder import write_secret
from monitor.errors import ConfigurationError, Fault
from monitor.settings.faults import check_content
from monitor.settings.new_yard import answer_model
from monitor.yard.space import SpaceKind

SOURCE = Path("laidup init")  # what faults name as their file


class NamedServer:
    """A server that laidup speaks to, as it was said by flags or at the terminal."""

    def __init__(self, named: str | None, user: str | None) -> None:
        self.named, self.user, self._password = named or "", user or "", ""

    def ask_for(self, what: str, otherwise: str) -> None:
        """Ask where it is, and how laidup signs in there; Enter: there is none."""
        self.named = ask_until_right(f"{what} (Enter: {otherwise}): ", _checked_server)
        if self.named and not self.user:
            self.user = ask_until_right("  laidup's user there (Enter: none): ", str)
        if self.named and self.user:
            self._password = getpass.getpass("  its password: ")

    def as_values(self, name: str, host_key: str = "") -> dict[str, Any]:
        """What a new yard's file is to say of it."""
        host, port = _host_and_port(self.named)
        found: dict[str, Any] = {} if host is None else {host_key or name: host}
        if port is not None:
            found[f"{name}_port"] = port
        return {**found, f"{name}_user": self.user} if host and self.user else found

    def keep_password(self, path: Path) -> None:
        """Write the password where the yard's file says that it is, or say that it is missing."""
        if not (self.named and self.user):
            return
        if self._password:
            write_secret(path, self._password.encode())
        else:
            print(f"Put the password of {self.user}, alone, into {path}.")


def checked_answer(key: str) -> Callable[[str], Any]:
    """Reads one answer; raises where it will not do."""

    def read(text: str) -> Any:  # noqa: ANN401  as the field has it
        value: Any = text.strip()
        if key in {"latitude", "longitude"}:
            with suppress(ValueError):  # the model says what is wrong with it
                value = float(value)
        elif key == "units":
            value = value.upper()
        return getattr(check_content(answer_model(key), {key: value}, SOURCE), key)

    return read


def space_from(text: str) -> tuple[str, str]:
    """One part of the yard as it is said on the command line: its name, ``=``, its kind."""
    name, equals, kind = (part.strip() for part in text.rpartition("="))
    kinds = [one.value for one in SpaceKind]
    if not (name and equals and kind in kinds):
        raise ConfigurationError(
            [
                Fault(
                    file=str(SOURCE),
                    key="--space",
                    problem=f"{text!r} is no part of a yard",
                    remedy=f'Write it like "Cold shed=cold". Kinds: {", ".join(kinds)}.',
                )
            ]
        )
    return name, kind


def _host_and_port(text: str) -> tuple[str | None, int | str | None]:
    """Host and port of ``HOST[:PORT]``; a port that is no number as it was written."""
    host, _, port = text.partition(":")
    return host or None, (int(port) if port.isdigit() else port) or None


def _checked_server(text: str) -> str:
    """Reads a server that was named, or none; raises where it will not do."""
    host, port = _host_and_port(text)
    check_content(answer_model("mail_server"), {"mail_server": host}, SOURCE)
    if port is not None:
        check_content(answer_model("mail_port"), {"mail_port": port}, SOURCE)
    return text


def usual_answer(key: str, said: Mapping[str, Any]) -> str:
    """What this machine makes likely; whoever sits here sees it and may say otherwise."""
    if key == "timezone":
        with suppress(OSError):
            return os.readlink("/etc/localtime").rpartition("zoneinfo/")[2]
    if key == "units":
        return "F" if str(said.get("timezone", "")).startswith("America/") else "C"
    return ""


def own_address() -> str:
    """Address of this machine in its own network; empty where it has none."""
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asking.connect(("192.0.2.1", 9))  # names a way out and sends nothing
        return str(asking.getsockname()[0])
    return ""


def ask_until_right(question: str, read: Callable[[str], Any], usual: str = "") -> Any:  # noqa: ANN401
    """Ask until the answer will do; Enter takes what is usual, where anything is."""
    while True:
        try:
            return read(input(question).strip() or usual)
        except ConfigurationError as error:
            print(f"  {error.faults[0].problem}. {error.faults[0].remedy}")
        except EOFError as error:
            raise KeyboardInterrupt from error
