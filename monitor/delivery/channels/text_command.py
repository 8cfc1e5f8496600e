"""Texts to phones by a program of the yard's own, such as one that drives a radio modem.

It works with the internet down. The program gets the person's number as its last argument and the
text on its standard input, and answers by its exit status (sysexits.h, 4.3BSD).
"""

import os
import signal
import stat
import subprocess
from dataclasses import dataclass, field
from pathlib import Path

from monitor.delivery.channels.channel import ChannelKind, DeliveryChannel
from monitor.errors import BadValueError, DeliveryError
from monitor.yard.message import DeliveryOutcome, Message, Receipt

_NAME = "text-command"
# sysexits.h: EX_DATAERR and EX_NOUSER. No later try of the same can succeed.
_REFUSED = frozenset({65, 67})
# What the program may know of the daemon's environment, in which secrets may stand.
_ENVIRONMENT = ("PATH", "HOME", "LANG", "TZ")


@dataclass(frozen=True, slots=True, kw_only=True)
class TextCommandSettings:
    """The program and its first arguments; no shell reads them."""

    command: tuple[str, ...]
    within_s: float = field(default=120.0, metadata={"internal": True})  # a modem dials in first

    def __post_init__(self) -> None:
        if not self.command or not Path(self.command[0]).is_absolute():
            problem = "the program is not named by its whole path"
            raise BadValueError(problem, 'write it as in ["/usr/local/bin/send-text"]')


class TextCommandChannel:
    """One run of the program for each text."""

    def __init__(self, settings: TextCommandSettings, _mail: DeliveryChannel | None = None) -> None:
        self._settings = settings

    def send(self, message: Message) -> Receipt:
        """Hand one text to the program. Only its exit status 0 confirms it."""
        from monitor.delivery.leaving_forms import text_of

        known = {name: os.environ[name] for name in _ENVIRONMENT if name in os.environ}
        try:
            run = subprocess.Popen(  # noqa: S603  of the yard's file, without a shell
                [*self._settings.command, message.address],
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                env=known,
                start_new_session=True,
            )
        except OSError as error:
            return _put_off(f"{self._settings.command[0]}: {error.strerror or error}")
        try:
            _, said = run.communicate(text_of(message).encode(), timeout=self._settings.within_s)
        except subprocess.TimeoutExpired:
            _end_group(run)
            return _put_off(f"no answer within {self._settings.within_s:.0f} s; it was ended")
        return _receipt_for(run.returncode, said.decode(errors="replace"))


def _end_group(run: "subprocess.Popen[bytes]") -> None:
    """End the program and what it has started: a child would keep the modem."""
    os.killpg(run.pid, signal.SIGKILL)
    run.communicate()


def _receipt_for(status: int, said: str) -> Receipt:
    if status == 0:
        return Receipt(outcome=DeliveryOutcome.TAKEN, detail="exit status 0")
    detail = " ".join(f"exit status {status}: {said}".split()).removesuffix(":")[:300]
    if status in _REFUSED:
        return Receipt(outcome=DeliveryOutcome.REFUSED, detail=detail)
    return _put_off(detail)


def _put_off(detail: str) -> Receipt:
    return Receipt(outcome=DeliveryOutcome.PUT_OFF, detail=detail)


def _check_program(settings: TextCommandSettings, _mail: DeliveryChannel | None, _yard: str) -> str:
    """Look whether the program can be run; it is not, so nobody's phone rings.

    Raises
    ------
    DeliveryError
        If it is missing, cannot be run, or others may rewrite it.
    """
    program = Path(settings.command[0])
    if not program.is_file():
        raise DeliveryError(_NAME, f"{program}: no such file; check command", permanent=False)
    if not os.access(program, os.X_OK):
        reason = f"{program}: this user may not run it; chmod +x, or another owner"
        raise DeliveryError(_NAME, reason, permanent=False)
    if program.stat().st_mode & stat.S_IWOTH:
        reason = f"{program}: everybody on this machine may rewrite it; chmod o-w"
        raise DeliveryError(_NAME, reason, permanent=False)
    return f"{program} can be run; nothing was sent."


TEXT_COMMAND = ChannelKind(
    name=_NAME, settings=TextCommandSettings, make=TextCommandChannel, try_out=_check_program
)
