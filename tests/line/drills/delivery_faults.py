"""Faults of mail servers, receivers and clocks: does the message still leave?"""

import contextlib
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from pathlib import Path

from tests.line.drills.drilled_yard import SECRET, DrilledYard, came_within, holds_for
from tests.line.drills.odd_servers import (
    DrippingWebServer,
    MailCopy,
    OddMailServer,
    TakingWebServer,
)
from tests.line.drills.warnings import Warned, WarningDrill, Word
from tests.line.drills.watched import FROST_MAIL
from tests.real.need import free_port, need

_PARTS = "mosquitto, mosquitto_pub; mail server on plain sockets"
_WITH_WEB = f"{_PARTS}; web server on plain sockets"
_SCALE = 0.05  # of every time limit of delivery: ten minutes become thirty seconds


def _letters(yard: DrilledYard, copies: list[MailCopy]) -> tuple[Word, ...]:
    return tuple(yard.word("operator", copy.subject, copy.at_s) for copy in copies)


def slow_after_the_dot(folder: Path) -> Warned:
    """A mail server that says 250 only 45 s after the last dot."""
    with (
        OddMailServer(after_dot_s=45.0 * _SCALE) as mail,
        DrilledYard(folder, mail.port, scale=_SCALE) as yard,
    ):
        yard.turn_cold()
        taken = came_within(lambda: ("taken", 1) in yard.outbox(), 30)
        once = holds_for(lambda: len(mail.copies) == 1, 3)
        return Warned(
            held=taken and once,
            words=_letters(yard, mail.copies),
            memory_mb=yard.memory_mb(),
            note=f"{len(mail.copies)} copies; all times at {_SCALE:g}, so 2.25 s for 45 s",
        )


def dripping_webhook(folder: Path) -> Warned:
    """A webhook whose answer comes byte by byte and never ends, while a second letter is due."""
    with (
        OddMailServer() as mail,
        DrippingWebServer(every_s=8.0 * _SCALE) as hook,
        DrilledYard(
            folder,
            mail.port,
            more=_webhook(folder, hook.port),
            by='"mail", "webhook"',
            scale=_SCALE,
        ) as yard,
    ):
        yard.turn_cold()
        first = came_within(lambda: bool(mail.copies) and bool(hook.requests), 30)
        second = yard.rehearse() and came_within(lambda: len(mail.copies) == 2, 10)
        put_off = came_within(lambda: any(tries for _, tries in yard.outbox("webhook")), 10)
        return Warned(
            held=first and second and put_off,
            words=_letters(yard, mail.copies),
            memory_mb=yard.memory_mb(),
            note=f"{len(hook.requests)} posts begun; all times at {_SCALE:g}",
        )


def dripping_ping(folder: Path) -> Warned:
    """An outside address answers the ping byte by byte: manager and lamp do not wait for it."""
    with (
        OddMailServer() as mail,
        DrippingWebServer(every_s=8.0 * _SCALE) as outside,
        _service_manager(folder) as beats,
    ):
        more = _ping(outside.port) + '[annunciator]\ntopic = "mill/lamp"\n'
        yard = DrilledYard(folder, mail.port, more=more, scale=_SCALE)
        yard.service_socket = str(folder / "notify")
        with yard, _lamp(yard) as shown:
            hanging = came_within(lambda: bool(outside.requests), 20)
            yard.turn_cold()
            told = came_within(lambda: bool(mail.copies), 30)
            lit = came_within(lambda: any("asks" in word for _, word in shown), 5)
            heard, start = len(beats), time.monotonic()
            beating = came_within(lambda: len(beats) >= heard + 10, 10)
            words = [*_letters(yard, mail.copies)]
            words += [yard.word("lamp", word, at_s) for at_s, word in shown if "asks" in word][:1]
            if beating:
                words.append(yard.word("service manager", "10 beats more", time.monotonic()))
            return Warned(
                held=hanging and told and lit and beating,
                words=tuple(words),
                memory_mb=yard.memory_mb(),
                note=f"{len(beats) - heard} beats in {time.monotonic() - start:.1f} s while the"
                f" ping hung; all times at {_SCALE:g}",
            )


def dripping_mail_server(folder: Path) -> Warned:
    """A mail server whose greeting never ends: webhook and beats go on, the mail follows."""
    port = free_port()
    with (
        TakingWebServer() as hook,
        _service_manager(folder) as beats,
    ):
        more = _webhook(folder, hook.port)
        yard = DrilledYard(folder, port, more=more, by='"mail", "webhook"', scale=_SCALE)
        yard.service_socket = str(folder / "notify")
        with yard:
            with OddMailServer(port, drip_greeting_s=8.0 * _SCALE):
                yard.turn_cold()
                posted = came_within(lambda: bool(hook.requests), 30)
                put_off = came_within(lambda: any(tries for _, tries in yard.outbox()), 25)
                heard = len(beats)
                beating = came_within(lambda: len(beats) >= heard + 10, 10)
            with OddMailServer(port) as mail:
                came = came_within(lambda: bool(mail.copies), 20)
                words = [
                    yard.word("operator's webhook", "alarm", at_s) for at_s, _ in hook.requests
                ]
                return Warned(
                    held=posted and put_off and beating and came,
                    words=(*words, *_letters(yard, mail.copies)),
                    memory_mb=yard.memory_mb(),
                    note=f"all times at {_SCALE:g}",
                )


def clock_ran_ahead(folder: Path) -> Warned:
    """The machine's clock is a day ahead at a ping, and while a mail is put off; then right."""
    port = free_port()
    with (
        TakingWebServer() as outside,
        DrilledYard(folder, port, more=_ping(outside.port), scale=_SCALE) as yard,
    ):
        pings = outside.requests
        yard.move_clock(86_400)
        count = len(pings)
        pinged = came_within(lambda: len(pings) > count + 1, 10)
        yard.move_clock(0)
        yard.turn_cold()
        tried = came_within(lambda: any(tries for _, tries in yard.outbox()), 30)
        before = yard.tries()
        yard.move_clock(86_400)
        tried = tried and came_within(lambda: yard.tries() > before, 30)
        yard.move_clock(0)
        yard.strike()
        count = len(pings)
        with OddMailServer(port) as mail:
            came = came_within(lambda: any(FROST_MAIL in one.subject for one in mail.copies), 30)
            alive = came_within(lambda: len(pings) > count, 10)
            words = [yard.word("ping", "alive", at_s) for at_s, _ in pings[count:][:1]]
            return Warned(
                held=pinged and tried and alive and came,
                words=(*words, *_letters(yard, mail.copies)),
                memory_mb=yard.memory_mb(),
                note=f"since the clock was put right; all times at {_SCALE:g}",
            )


def killed_in_a_hand_over(folder: Path) -> Warned:
    """kill -9 while the mail server has the mail and has not said so."""
    port = free_port()
    with DrilledYard(folder, port) as yard:
        with OddMailServer(port, after_dot_s=60.0) as before:
            yard.turn_cold()
            handed = came_within(lambda: len(before.copies) == 1, 30)
            yard.end(signal.SIGKILL)
        with OddMailServer(port) as mail:
            yard.strike()
            yard.start()
            came = came_within(lambda: bool(mail.copies), 15)
            once = holds_for(lambda: len(mail.copies) == 1, 1)
            same = len({one.message_id for one in (*before.copies, *mail.copies)}) == 1
            return Warned(
                held=handed and came and once and same,
                words=_letters(yard, mail.copies),
                memory_mb=yard.memory_mb(),
                note="since the new start; both copies of one Message-ID",
            )


def refused_by_policy(folder: Path) -> Warned:
    """A mail server that answers 550 for a policy of its own, twice, and then takes the mail."""
    answers = ("550 5.7.1 refused by policy", "550 greylisted, come back later")

    def answer(_address: str, nth: int) -> str:
        return answers[nth - 1] if nth <= len(answers) else "250 2.1.5 fine"

    with (
        OddMailServer(answer_recipient=answer) as mail,
        DrilledYard(folder, mail.port, scale=_SCALE) as yard,
    ):
        yard.turn_cold()
        came = came_within(lambda: bool(mail.copies), 40)
        return Warned(
            held=came and came_within(lambda: ("taken", 3) in yard.outbox(), 5),
            words=_letters(yard, mail.copies),
            memory_mb=yard.memory_mb(),
            note=f"refused {len(answers)} times; waits at {_SCALE:g}",
        )


def disk_full_with_mail_waiting(folder: Path) -> Warned:
    """The disk fills while a mail waits for its server: it leaves once, and that is kept."""
    port = free_port()
    with DrilledYard(folder, port, scale=_SCALE) as yard:
        yard.turn_cold()
        waits = came_within(lambda: bool(yard.outbox()), 30)
        with yard.full_disk():
            yard.strike()
            with OddMailServer(port) as mail:
                came = came_within(lambda: bool(mail.copies), 30)
                once = holds_for(lambda: len(mail.copies) == 1, 3)
                unwritten = "taken" not in {outcome for outcome, _ in yard.outbox()}
        with OddMailServer(port) as later:
            kept = came_within(lambda: "taken" in {outcome for outcome, _ in yard.outbox()}, 20)
            once = once and holds_for(lambda: not later.copies, 2)
            return Warned(
                held=waits and came and once and unwritten and kept,
                words=_letters(yard, mail.copies),
                memory_mb=yard.memory_mb(),
                note=f"{len(mail.copies) + len(later.copies)} copies; waits at {_SCALE:g}",
            )


def _webhook(folder: Path, port: int) -> str:
    (folder / "hook.secret").write_text(SECRET)
    return f'[webhook]\nurl = "http://127.0.0.1:{port}/"\nsecret_file = "hook.secret"\n'


def _ping(port: int) -> str:
    return f'[ping]\nurl = "http://127.0.0.1:{port}/"\nevery_s = 30\n'


@contextlib.contextmanager
def _service_manager(folder: Path) -> Iterator[list[float]]:
    """Listen as systemd does; when each beat of the watchdog came."""
    beats: list[float] = []
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as line:
        line.bind(str(folder / "notify"))
        line.settimeout(0.1)
        stop = threading.Event()

        def listen() -> None:
            while not stop.is_set():
                with contextlib.suppress(TimeoutError):
                    if line.recv(4096).startswith(b"WATCHDOG=1"):
                        beats.append(time.monotonic())

        thread = threading.Thread(target=listen)
        thread.start()
        try:
            yield beats
        finally:
            stop.set()
            thread.join()


@contextlib.contextmanager
def _lamp(yard: DrilledYard) -> Iterator[list[tuple[float, str]]]:
    """What mosquitto_sub sees of the lamp's topic, and when."""
    shown: list[tuple[float, str]] = []
    process = subprocess.Popen(
        [
            *(need("mosquitto_sub", "mosquitto-clients"), "-h", "127.0.0.1"),
            *("-p", str(yard.broker.port), "-t", "mill/lamp/state", "-q", "1"),
        ],
        stdout=subprocess.PIPE,
        text=True,
    )

    def listen() -> None:
        assert process.stdout is not None
        shown.extend((time.monotonic(), line.strip()) for line in process.stdout)

    thread = threading.Thread(target=listen)
    thread.start()
    try:
        yield shown
    finally:
        process.terminate()
        thread.join()
        process.wait(10)


DRILLS: list[WarningDrill] = [
    WarningDrill(name="mail: 45 s after the final dot", parts=_PARTS, run=slow_after_the_dot),
    WarningDrill(name="mail: greeting byte by byte", parts=_WITH_WEB, run=dripping_mail_server),
    WarningDrill(name="webhook byte by byte", parts=_WITH_WEB, run=dripping_webhook),
    WarningDrill(name="ping byte by byte", parts=f"{_WITH_WEB}; mosquitto_sub", run=dripping_ping),
    WarningDrill(name="clock a day ahead, then right", parts=_WITH_WEB, run=clock_ran_ahead),
    WarningDrill(name="kill -9 in a hand-over", parts=_PARTS, run=killed_in_a_hand_over),
    WarningDrill(name="mail: 550 by policy", parts=_PARTS, run=refused_by_policy),
    WarningDrill(name="mail waits, disk full", parts=_PARTS, run=disk_full_with_mail_waiting),
]
