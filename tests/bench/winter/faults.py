"""What goes wrong in a disturbed winter: each fault as a span of hours, and how it must be told."""

import contextlib
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace

from tests.bench.winter.places import SqlitePlace
from tests.bench.winter.stage import Stage
from tests.bench.winter.story import Word
from tests.bench.winter.yard import YARD, Pack

_RIGHT, _WRONG = "full colour", "full  colour"
_REWRITE = (
    "UPDATE layup_entries SET body = replace(body, '{0}', '{1}')"
    " WHERE craft_id = 'whimbrel' AND body LIKE '%{0}%'"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One kind of fault."""

    name: str
    hours: int  # of the story
    strike: Callable[[Stage], AbstractContextManager[None]]
    least_s: float = 0.0  # of the machine's time: what times it by that is to see it
    check: str = ""  # of /health, which fails meanwhile; empty: none needs to
    may_be_harmless: bool = False  # where all that was sent was stored, none needed to fail
    words: tuple[str, ...] = ()  # any of which its mail has; none: it is over too soon to be told


@contextlib.contextmanager
def blinded(stage: Stage) -> Iterator[None]:
    """Nothing can be judged meanwhile."""
    stage.blind += 1
    try:
        yield
    finally:
        stage.blind -= 1


@contextlib.contextmanager
def broker_restarted(stage: Stage) -> Iterator[None]:
    """Stopped with TERM, and started."""
    stage.broker.stop()
    stage.broker.start()
    yield


@contextlib.contextmanager
def broker_killed(stage: Stage) -> Iterator[None]:
    """Ended with KILL, and started; the sensors say their last minute again."""
    stage.broker.kill()
    stage.broker.start()
    yield


@contextlib.contextmanager
def broker_away(stage: Stage) -> Iterator[None]:
    """No broker: the sensors hold what they read."""
    stage.broker.stop()
    stage.deaf += 1
    try:
        yield
    finally:
        stage.broker.start()
        stage.deaf -= 1
        stage.wait_for(lambda: stage.story[Word.CONNECTED] == 1, "the daemon to connect")


@contextlib.contextmanager
def line_cut(stage: Stage) -> Iterator[None]:
    """The line between broker and laidup swallows what is sent, then is there again."""
    stage.gate.cut(1.0)
    yield


@contextlib.contextmanager
def daemon_killed(stage: Stage) -> Iterator[None]:
    """Ended with KILL, and started."""
    stage.end_daemon(signal.SIGKILL)
    stage.start_daemon()
    yield


@contextlib.contextmanager
def daemon_away(stage: Stage) -> Iterator[None]:
    """Ended with KILL, and nobody starts it; the broker keeps what comes."""
    stage.end_daemon(signal.SIGKILL)
    with blinded(stage):
        yield
    stage.start_daemon()


@contextlib.contextmanager
def store_locked(stage: Stage) -> Iterator[None]:
    """Another holds the store's write lock."""
    with blinded(stage), stage.place.locked():
        yield


@contextlib.contextmanager
def disk_full(stage: Stage) -> Iterator[None]:
    """The store's disk takes nothing more."""
    with blinded(stage), stage.place.full():
        yield


@contextlib.contextmanager
def not_writable(stage: Stage) -> Iterator[None]:
    """The store may be read alone; a file shows that only to whoever opens it anew."""
    if isinstance(stage.place, SqlitePlace):
        stage.end_daemon()
    with blinded(stage), stage.place.not_writable():
        if isinstance(stage.place, SqlitePlace):
            stage.launch_daemon()
        yield
    if not stage.daemon_runs:
        stage.start_daemon()


@contextlib.contextmanager
def mail_away(stage: Stage) -> Iterator[None]:
    """Nobody listens where mails go."""
    stage.mute += 1
    stage.mail.stop()
    try:
        yield
    finally:
        stage.mail.start()
        stage.mute -= 1


@contextlib.contextmanager
def mail_refused(stage: Stage) -> Iterator[None]:
    """The mail server takes nothing for now."""
    stage.mute += 1
    stage.mail.refusal = "452 4.3.1 no room for mails"
    try:
        yield
    finally:
        stage.mail.refusal = None
        stage.mute -= 1


@contextlib.contextmanager
def mail_slow(stage: Stage) -> Iterator[None]:
    """The mail server takes two seconds over each."""
    stage.mail.slow_s = 2.0
    try:
        yield
    finally:
        stage.mail.slow_s = 0.0


@contextlib.contextmanager
def _changed(stage: Stage, change: Callable[[list[Pack]], list[Pack]]) -> Iterator[None]:
    stage.change_packs.append(change)
    try:
        yield
    finally:
        stage.change_packs.remove(change)


def _is(pack: Pack, *names: str) -> bool:
    return pack.sensor.removeprefix(f"urn:dev:ops:{YARD}-") in names


def sensor_silent(stage: Stage) -> AbstractContextManager[None]:
    """One thermometer of the row sends nothing, and what it would have read is nowhere."""
    return _changed(stage, lambda packs: [one for one in packs if not _is(one, "east-row-bay")])


def sensor_stuck(stage: Stage) -> AbstractContextManager[None]:
    """One of a hall's two thermometers says the same again and again."""
    first: dict[str, float] = {}

    def change(packs: list[Pack]) -> list[Pack]:
        changed = []
        for pack in packs:
            records = pack.records
            if _is(pack, "boat-hall-door"):
                records = tuple(
                    (label, unit, at_s, first.setdefault(label, value))
                    for label, unit, at_s, value in records
                )
            changed.append(replace(pack, records=records))
        return changed

    return _changed(stage, change)


def duplicates(stage: Stage) -> AbstractContextManager[None]:
    """Every pack comes twice, and once more an hour later."""
    before: list[Pack] = []

    def change(packs: list[Pack]) -> list[Pack]:
        again = [*before, *packs, *packs]
        before[:] = packs
        return again

    return _changed(stage, change)


@contextlib.contextmanager
def late_burst(stage: Stage) -> Iterator[None]:
    """Two sensors hold their packs, and send them all at once in the end."""
    held: list[Pack] = []

    def change(packs: list[Pack]) -> list[Pack]:
        held.extend(one for one in packs if _is(one, "boat-hall-keel", "stove-hall-loft"))
        return [one for one in packs if one not in held]

    with _changed(stage, change):
        yield
    stage.send_with_next(held)


def _clock_set(ahead_s: float) -> Callable[[Stage], AbstractContextManager[None]]:
    @contextlib.contextmanager
    def set_wrong(stage: Stage) -> Iterator[None]:
        stage.story[Word.MOVED_MS] = round(ahead_s * 1000)
        try:
            yield
        finally:
            stage.story[Word.MOVED_MS] = 0

    return set_wrong


@contextlib.contextmanager
def forecast_gone(stage: Stage) -> Iterator[None]:
    """The weather service answers with an error."""
    stage.weather.away = True
    try:
        yield
    finally:
        stage.weather.away = False


@contextlib.contextmanager
def record_rewritten(stage: Stage) -> Iterator[None]:
    """Somebody changes an entry by SQL, and puts it back."""
    assert stage.place.change(_REWRITE.format(_RIGHT, _WRONG)) == 1
    try:
        yield
    finally:
        assert stage.place.change(_REWRITE.format(_WRONG, _RIGHT)) == 1


FAULTS = (
    Fault(name="broker restarted", hours=1, strike=broker_restarted),
    Fault(
        name="sensor silent",
        hours=30,
        strike=sensor_silent,
        words=("Read East Row", "Look at the sensor of East Row"),
    ),
    Fault(name="daemon killed -9", hours=1, strike=daemon_killed),
    Fault(name="store locked", hours=6, strike=store_locked, least_s=12.0, check="store"),
    Fault(name="mail server away", hours=9, strike=mail_away),
    Fault(name="packs twice and thrice", hours=24, strike=duplicates),
    Fault(
        name="clock set 3 h back",
        hours=8,
        strike=_clock_set(-3 * 3600.0),
        words=("Set laidup's clock",),
    ),
    Fault(
        name="disk full",
        hours=6,
        strike=disk_full,
        least_s=12.0,
        check="store",
        may_be_harmless=True,  # a server has room within its pages, and nobody sees its disk
    ),
    Fault(name="line to the broker cut", hours=1, strike=line_cut),
    Fault(
        name="sensor stuck",
        hours=48,
        strike=sensor_stuck,
        words=("Compare the sensors of Boat Hall", "stays as it is"),
    ),
    Fault(name="daemon killed -9, away", hours=7, strike=daemon_away, check="gone"),
    Fault(name="broker away", hours=6, strike=broker_away, least_s=12.0, check="broker"),
    Fault(name="mail server refuses", hours=12, strike=mail_refused),
    Fault(name="two sensors late, then a burst", hours=14, strike=late_burst),
    Fault(name="store not writable", hours=5, strike=not_writable, least_s=8.0),
    Fault(
        name="clock set 26 h ahead",
        hours=8,
        strike=_clock_set(26 * 3600.0),
        words=("Set laidup's clock",),
    ),
    Fault(name="forecast gone", hours=60, strike=forecast_gone, words=("forecast yourself",)),
    Fault(name="broker killed -9", hours=1, strike=broker_killed),
    Fault(
        name="record rewritten",
        hours=30,
        strike=record_rewritten,
        least_s=12.0,
        check="record",
        words=("layup list whimbrel", "Put right what cannot be read"),
    ),
    Fault(name="mail server slow", hours=24, strike=mail_slow),
)


@dataclass(slots=True)
class Struck:
    """One fault as it struck, and what was seen of it."""

    fault: Fault
    begin: int  # hours from the start
    end: int
    open: AbstractContextManager[None] | None = None
    began_s: float = 0.0
    shown: bool = False  # by /health, while it was there
    gone: bool = False  # there, after it
    gone_s: float = 0.0  # how long it took to be


class Schedule:
    """Strikes one fault after another, over a whole winter."""

    def __init__(self, stage: Stage, faults: tuple[Fault, ...], rest_h: int, first_h: int) -> None:
        """Plan them.

        Parameters
        ----------
        stage : Stage
        faults : tuple of Fault
            In turn, and again from the first one on.
        rest_h : int
            Between the end of one and the next [h].
        first_h : int
            When the first one strikes [h].
        """
        self._stage = stage
        self.struck: list[Struck] = []
        hours, at, turn = stage.winter.days * 24, first_h, 0
        while at + faults[turn % len(faults)].hours + rest_h <= hours:
            fault = faults[turn % len(faults)]
            self.struck.append(Struck(fault, at, at + fault.hours))
            at, turn = at + fault.hours + rest_h, turn + 1

    def by_hour(self, number: int) -> None:
        """End what is over, then strike what is due."""
        for one in self.struck:
            if one.open is not None and number >= one.end:
                self._end(one)
        for one in self.struck:
            if not one.began_s and number >= one.begin:
                one.began_s = time.monotonic()
                one.open = one.fault.strike(self._stage)
                one.open.__enter__()

    def _end(self, one: Struck) -> None:
        stage, check = self._stage, one.fault.check
        left_s = one.fault.least_s - (time.monotonic() - one.began_s)
        if left_s > 0:
            time.sleep(left_s)
        one.shown = (
            not check
            or stage.wait_for(lambda: check in stage.health(), check, 30.0)
            or (one.fault.may_be_harmless and stage.has_all_readings())
        )
        assert one.open is not None
        one.open.__exit__(None, None, None)
        one.open = None
        over_s = time.monotonic()
        one.gone = not check or stage.wait_for(lambda: check not in stage.health(), check, 60.0)
        one.gone_s = time.monotonic() - over_s
