"""Faults of memory and drawing: is a second danger still told?

Weeks pass on the readings' clock: real readings in a real store, judged and told round by round.
The seconds of the table are then those of the yard's own clock.
"""

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock, to_ms
from monitor.craft.stored import StoredCraft
from monitor.judgement.round import Round
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.yard.message import Message
from monitor.yard.reading import Channel, Flag, Reading
from monitor.yard.space import Person, Role
from tests.judgement import scene
from tests.line.drills.warnings import Warned, WarningDrill, Word
from tests.line.drills.watched import watched_yard

ROOT = Path(__file__).parents[3]
SINCE = datetime(2026, 11, 24, 18, tzinfo=UTC)
FIRST, SECOND = datetime(2026, 11, 29, 12, tzinfo=UTC), datetime(2027, 1, 9, 12, tzinfo=UTC)
_DAY = timedelta(days=1)
_COLDEST_AT = timedelta(hours=18)  # after the noon before it, UTC: before dawn in the yard
_OPERATOR = Person(
    id="maren", name="Maren Ulv", mail="maren@yard.example", roles=frozenset({Role.OPERATOR})
)
# A small passage follows a short dip of the air; a block full of water does not.
_HEAD = scene.circuit(1.0)
_BLOCK = scene.circuit(9.0, id="block", name="Engine block", volume_l=6.0)


def told_as_ice_in_november(folder: Path) -> Warned:
    """On a coast one circuit ices on 29 November, and nobody looks into it; then comes January."""
    letters = _winter(folder, _coast_c)
    november = [each for each in letters if each.created_at < FIRST + 2 * _DAY]
    january = [each for each in letters if each.created_at >= SECOND - _DAY]
    of_block = [each for each in january if "treat Plover by" in each.subject.replace("T", "t")]
    before_dawn = SECOND + _COLDEST_AT
    return Warned(
        held=bool(november and of_block and of_block[0].created_at < before_dawn),
        words=tuple(_word(each, SECOND) for each in (*november[-1:], *of_block[:1])),
        note=f"{len(letters)} letters in 52 days; seconds of the yard's clock around 9 January",
    )


def _coast_c(at: datetime) -> float:
    """Mild air with a dip of three hours on one night, and a hard frost six weeks later."""
    mild_c = 6.0 + 2.0 * np.cos(2 * np.pi * (at - FIRST - timedelta(hours=9)) / _DAY)
    dip = np.exp(-(((at - FIRST - _COLDEST_AT) / timedelta(hours=2.0)) ** 2))
    frost = np.exp(-(((at - SECOND - _COLDEST_AT) / timedelta(hours=9.0)) ** 2))
    return float(mild_c - 7.0 * dip - 12.0 * frost)


def _winter(folder: Path, air_c: Callable[[datetime], float]) -> list[Message]:
    """Judge and tell through some weeks, each hour where it turns cold; what was written."""
    yard = replace(scene.yard_of(scene.RACK), people=(_OPERATOR,))
    craft = scene.stored(
        scene.RACK, (_HEAD, scene.water()), (_BLOCK, scene.water("block")), craft_id="plover"
    )
    url = f"sqlite:///{folder / 'laidup.db'}"
    migrate(url)
    store, clock = Store(url, yard.id), ReadingsClock(SINCE)
    judging, telling = Round(store, yard, clock), AlarmRound(store, yard, clock)
    began = SINCE - 4 * _DAY
    for at in _times(SECOND + 2 * _DAY):
        _take(store, began, at, air_c)
        began = at
        clock.advance_to(at)
        judging.run([craft])
        telling.run(_by_id(craft))
    with store.snapshot() as tx:
        written = [message for message, _ in tx.outbox.newest_messages(limit=1000)]
    store.close()
    return written[::-1]


def _by_id(craft: StoredCraft) -> dict[str, StoredCraft]:
    return {craft.id: craft}


def _times(until: datetime) -> Iterator[datetime]:
    at = SINCE
    while at < until:
        yield at
        near = any(timedelta(0) <= at - cold < 1.2 * _DAY for cold in (FIRST, SECOND))
        at += timedelta(hours=1 if near else 12)


def _take(store: Store, since: datetime, until: datetime, air_c: Callable) -> None:
    """Readings of the rack's sensor in the store, one each half hour."""
    count = int((until - since) / timedelta(minutes=30))
    at = [since + (n + 1) * timedelta(minutes=30) for n in range(count)]
    with store.transaction() as tx:
        for channel, value_of in ((Channel.TEMPERATURE, air_c), (Channel.HUMIDITY, lambda _: 80.0)):
            tx.reading_writer.add(
                Reading(
                    sensor=f"air-{scene.RACK.id}",
                    channel=channel,
                    at_ms=to_ms(each),
                    value=round(value_of(each), 2),
                    raw=round(value_of(each), 2),
                    flag=Flag.PASS,
                )
                for each in at
            )


def _word(message: Message, since: datetime) -> Word:
    to = "operator" if message.person == _OPERATOR.id else message.person
    return Word(to=to, what=message.subject, after_s=(message.created_at - since).total_seconds())


def file_in_working_directory(folder: Path) -> Warned:
    """A file nt.py, which hangs whoever imports it, lies where the weekly report is drawn."""
    trace = folder / "somebody-ran-this"
    for name in ("nt", "json", "matplotlib", "PIL"):
        (folder / f"{name}.py").write_text(
            f"open({str(trace)!r}, 'a')\nimport time\ntime.sleep(600)\n"
        )
    program = (
        "from monitor.reports.drawing import Plots; from tests.reports.test_drawing import figure;"
        " print(len(Plots().plot(figure()) or b''))"
    )
    began = time.monotonic()
    drawn = subprocess.run(
        [sys.executable, "-P", "-c", program],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=180,
        check=False,
    )
    took_s = time.monotonic() - began
    size = int(drawn.stdout or 0)
    return Warned(
        held=size > 0 and not trace.exists(),
        words=(Word(to="report", what=f"a plot of {size} bytes", after_s=took_s),),
        note=f"{int(trace.exists())} of the folder's files ran",
    )


def lamp_with_a_bad_certificate(folder: Path) -> Warned:
    """The file of authorities for broker and lamp holds none; check and run are asked."""
    with watched_yard(folder) as yard:
        (yard.config.parent / "bad.crt").write_text("these are no certificates\n")
        with_tls = '[broker]\ntls = true\nca_file = "bad.crt"\n'
        text = yard.config.read_text().replace("[broker]\n", with_tls)
        yard.config.write_text(f'{text}\n[annunciator]\ntopic = "mill/lamp"\n')
        yard.strike()
        words = []
        for command in ("check", "run"):
            status, said = yard.command(command)
            if status == 1 and "bad.crt" in said and "PEM" in said and "Traceback" not in said:
                words.append(yard.word(f"laidup {command}", "names the file and the remedy"))
        return yard.came(held=len(words) == 2, words=words)


DRILLS: list[WarningDrill] = [
    WarningDrill(
        name="told as ice in November, frost in January",
        parts="SQLite",
        run=told_as_ice_in_november,
    ),
    WarningDrill(
        name="a file nt.py where plots are drawn",
        parts="CPython, matplotlib",
        run=file_in_working_directory,
    ),
    WarningDrill(
        name="a file of no certificates, with the lamp",
        parts="mosquitto; OpenSSL",
        run=lamp_with_a_bad_certificate,
    ),
]
