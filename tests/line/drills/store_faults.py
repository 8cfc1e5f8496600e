"""Faults of store, disk and page: a full disk, a damaged file, crowds of readers, large bodies."""

import contextlib
import os
import re
import socket
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

from monitor.intake.inbox import SPAN_S
from tests.line.drills.warnings import Warned, WarningDrill, Word
from tests.line.drills.watched import (
    PARTS,
    Watched,
    fill,
    filled_again_and_again,
    flip_page,
    small_disk,
    watched_yard,
)
from tests.line.drills.whole_yard import ALL_READINGS
from tests.real.need import need

_MAIL_WITHIN_S = 30.0


def disk_full(folder: Path) -> Warned:
    """The disk fills up, and the night turns cold only then."""
    with small_disk(folder, 64) as disk, watched_yard(folder, disk=disk) as yard:
        assert yard.start(), yard.log
        ballast = fill(disk)
        yard.strike()
        yard.send_cold_nights()
        words = yard.mailed_of_frost(_MAIL_WITHIN_S)
        ballast.unlink()
        renewed = yard.until(lambda: "Reserve made again" in yard.log, 20)
        return yard.came(held=bool(words) and renewed, words=words)


def filled_without_end(folder: Path) -> Warned:
    """Something fills the disk in a loop, and takes every byte that laidup gives up."""
    with small_disk(folder, 64) as disk, watched_yard(folder, disk=disk) as yard:
        assert yard.start(), yard.log
        yard.until(lambda: (disk / "laidup.db-reserve").exists(), 10)
        with filled_again_and_again(disk):
            yard.strike()
            yard.send_cold_nights()
            words = yard.mailed("room on that disk", _MAIL_WITHIN_S)
        yard.until(lambda: "Reserve made again" in yard.log, 30)
        words += yard.mailed_of_frost(_MAIL_WITHIN_S)
        return yard.came(held=len(words) == 2, words=words)


def full_at_start(folder: Path) -> Warned:
    """laidup is killed on a full disk, and started on it again."""
    with small_disk(folder, 64) as disk, watched_yard(folder, disk=disk) as yard:
        assert yard.start(), yard.log
        yard.until(lambda: (disk / "laidup.db-reserve").exists(), 10)
        fill(disk)
        assert yard.process is not None
        yard.process.kill()
        yard.process.wait(10)
        fill(disk)
        yard.strike()
        started = yard.start()
        words = yard.mailed("room on that disk", _MAIL_WITHIN_S)
        # Until then what comes may have waited in the broker, and nobody knows how long.
        yard.until(lambda: False, SPAN_S + 1)
        yard.send_cold_nights()
        words += yard.mailed_of_frost(_MAIL_WITHIN_S)
        return yard.came(held=started and len(words) == 2, words=words)


def little_room(folder: Path) -> Warned:
    """Some dozen megabytes are left on the disk, for days."""
    with small_disk(folder, 100) as disk, watched_yard(folder, disk=disk) as yard:
        fill(disk, 60_000_000)
        yard.strike()
        assert yard.start(), yard.log
        words = yard.mailed("room on that disk", _MAIL_WITHIN_S)
        _, said = yard.command("check")
        told = re.search(r"^Store: .*?(\d+ MB are free on the store's disk)", said, re.MULTILINE)
        if told is not None:
            words.append(yard.word("laidup check", told[1]))
        return yard.came(held=len(words) == 2, words=words)


def flipped_page(folder: Path) -> Warned:
    """While laidup is stopped, the disk spoils the page of its file that new readings go to."""
    with watched_yard(folder) as yard:
        assert yard.start(), yard.log
        yard.send_cold_nights()
        yard.until(lambda: _stored(yard) > 100, 20)
        yard.end()
        yard.mail.messages.clear()
        flip_page(yard.database, "landed_readings")
        yard.strike()
        yard.start()
        words = yard.mailed("laidup's store", _MAIL_WITHIN_S)
        status, said = yard.asked("/health")
        if status == 503 and "damaged" in said:
            words.append(yard.word("health", "503, the store's file is damaged"))
        status, said = yard.command("check")
        if status == 1 and "damaged" in said and ".dump" in said:
            words.append(yard.word("laidup check", "FAILED, with the remedy"))
        return yard.came(held=len(words) == 3, words=words)


def alarms_page_flipped(folder: Path) -> Warned:
    """The page that is spoilt is one that alarms are written to: none can be kept."""
    with watched_yard(folder) as yard:
        assert yard.start(), yard.log
        yard.send_cold_nights()
        yard.mailed_of_frost(_MAIL_WITHIN_S)
        yard.end()
        flip_page(yard.database, "alarms")
        yard.strike()
        yard.start()
        words = yard.mailed("store fails", 40)
        yard.until(lambda: False, 6)
        again = sum("store fails" in mail.subject for mail in yard.mail.messages)
        return yard.came(held=bool(words) and again == 1, words=words, note=f"told {again} times")


def store_gone(folder: Path) -> Warned:
    """The store's file is missing at a start, as where a disk is not mounted; then it is empty."""
    with watched_yard(folder) as yard:
        assert yard.start(), yard.log
        yard.end()
        away = yard.database.with_name("elsewhere.db")
        yard.database.rename(away)
        yard.strike()
        words = []
        for found in ("missing", "empty"):
            if found == "empty":
                yard.database.touch()
            started = yard.start()
            refusal = yard.log.rstrip().rpartition("\n")[2]
            if not started and "--new-store" in refusal:
                words.append(yard.word("laidup run", f"refuses a store that is {found}"))
        status, said = yard.command("check")
        if status == 1 and "--new-store" in said:
            words.append(yard.word("laidup check", "tells of it"))
        began = yard.start("--new-store")
        yard.end()
        away.replace(yard.database)
        back = yard.start()
        note = f"begun anew when told to: {began}; taken up when put back: {back}"
        return yard.came(held=len(words) == 3 and began and back, words=words, note=note)


def removed_while_running(folder: Path) -> Warned:
    """The store's file is moved away while laidup runs and nothing comes in; then it is back."""
    with watched_yard(folder) as yard:
        assert yard.start(), yard.log
        yard.until(lambda: (yard.database.with_name("laidup.db-reserve")).exists(), 10)
        away = yard.database.with_name("elsewhere.db")
        yard.strike()
        yard.database.rename(away)
        words = yard.mailed("store fails", 60)
        status, said = yard.asked("/health")
        if status == 503 and "removed" in said:
            words.append(yard.word("health", "503, the store's file was removed"))
        made = yard.database.exists()
        away.replace(yard.database)
        yard.send_cold_nights()
        words += yard.mailed_of_frost(_MAIL_WITHIN_S)
        note = f"an empty file made in its place: {made}"
        return yard.came(held=len(words) == 3 and not made, words=words, note=note)


def not_writable(folder: Path) -> Warned:
    """The store's file loses its write permission while connections open, and gets it back."""
    with watched_yard(folder) as yard:
        assert yard.start(), yard.log
        yard.end()
        yard.database.chmod(0o444)
        yard.strike()
        started = yard.start_like_any_user()
        yard.database.chmod(0o644)
        if not started:  # a service manager starts it again; here that is the drill's part
            assert yard.start_like_any_user(), yard.log
        yard.database.chmod(0o444)
        with _readers(yard, 40):
            # Until then what comes may have waited in the broker, and nobody knows how long.
            yard.until(lambda: False, SPAN_S + 1)
        yard.database.chmod(0o644)
        yard.send_cold_nights()
        words = yard.mailed_of_frost(_MAIL_WITHIN_S)
        return yard.came(held=bool(words), words=words, note=f"{_stored(yard)} readings stored")


def fifty_readers(folder: Path) -> Warned:
    """Fifty browsers ask for the page without a pause while the night turns cold."""
    with watched_yard(folder) as yard:
        _add_craft(yard, 150)
        assert yard.start(), yard.log
        yard.strike()
        with _readers(yard, 50) as answers:
            yard.until(lambda: False, 5)
            yard.send_cold_nights()
            words = yard.mailed_of_frost(_MAIL_WITHIN_S)
        failed = yard.log.count("failed and will be tried again")
        turned_away = sum(1 for one in answers if one == 503)
        note = f"{len(answers)} answers, {turned_away} of them 503; {failed} rounds failed"
        held = bool(words) and not failed and turned_away > 0
        return yard.came(held=held, words=words, note=note)


def large_body(folder: Path) -> Warned:
    """400 MB come to the JSON API without a key, once with their length said and once chunked."""
    with watched_yard(folder, extra='access = "people"') as yard:
        assert yard.start(), yard.log
        large = folder / "large"
        with large.open("wb") as file:
            file.truncate(400_000_000)
        yard.strike()
        said = [_curl(yard, large), _curl(yard, large, "Transfer-Encoding: chunked")]
        authorized = f"Authorization: Bearer {yard.make_key()}"
        said += [_curl(yard, large, authorized)]
        said += [_curl(yard, large, authorized, "Transfer-Encoding: chunked")]
        yard.send_cold_nights()
        words = yard.mailed_of_frost(_MAIL_WITHIN_S)
        refused = said[:2] == ["401", "401"] and said[2:] == ["413", "413"]
        small = yard.memory_mb < 250
        return yard.came(
            held=bool(words) and refused and small, words=words, note=f"answers {', '.join(said)}"
        )


def _add_craft(yard: Watched, count: int) -> None:
    """More craft in the shed, so that a page of them takes its time."""
    file = yard.config.with_name("craft.toml")
    one = file.read_text().split("[[craft]]")[1]
    more = [
        one.replace('id = "teal"', f'id = "teal-{n}"').replace('"shed/1"', '"shed"')
        for n in range(count)
    ]
    with file.open("a") as craft:
        craft.write("".join(f"\n[[craft]]{each}" for each in more))


def dripping_bodies(folder: Path) -> Warned:
    """A hundred callers each begin a body of the largest size, and send a byte now and then."""
    with watched_yard(folder, extra='access = "people"') as yard:
        assert yard.start(), yard.log
        yard.strike()
        head = (
            "POST /api/craft/plover/layup HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 65536\r\n"
            f"Authorization: Bearer {yard.make_key()}\r\n\r\n"
        ).encode()
        callers = [socket.create_connection(("127.0.0.1", yard.port)) for _ in range(100)]
        for caller in callers:
            caller.sendall(head + b"{")
        yard.send_cold_nights()
        words = yard.mailed_of_frost(_MAIL_WITHIN_S)
        status, _ = yard.asked("/sign-in")
        if status == 200:
            words.append(yard.word("page", "is served meanwhile"))
        for caller in callers:
            caller.close()
        return yard.came(held=len(words) == 2, words=words)


def demo_on_a_taken_port(folder: Path) -> Warned:
    """The demo is told to serve its page where something else listens."""
    began = time.monotonic()
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        ended = subprocess.run(
            [sys.executable, "-m", "monitor", "demo", "--port", port, "--end"],
            capture_output=True, text=True, timeout=60, check=False,
            env={**os.environ, "TMPDIR": str(folder)},
        )  # fmt: skip
    said = ended.stderr.strip().rpartition("\n")[2]
    held = ended.returncode == 1 and "set another" in said and "Traceback" not in ended.stderr
    word = Word(to="the terminal", what=said, after_s=time.monotonic() - began)
    return Warned(held=held, words=(word,))


def nonsense_behind_the_key(folder: Path) -> Warned:
    """NaN, the year 1, half a character and 30,000 brackets come from whoever holds a key."""
    bodies = ['{"quantity_l": NaN}', '{"at": "0001-01-01T00:00:00+14:00"}', '{"by": "\\ud800"}']
    bodies.append("[" * 30_000)
    with watched_yard(folder, extra='access = "people"') as yard:
        assert yard.start(), yard.log
        yard.strike()
        said, authorized = [], f"Authorization: Bearer {yard.make_key()}"
        for text in bodies:
            body = folder / "body"
            body.write_text(text)
            said.append(_curl(yard, body, authorized))
        yard.send_cold_nights()
        words = yard.mailed_of_frost(_MAIL_WITHIN_S)
        held = bool(words) and set(said) <= {"400", "422"} and "Traceback" not in yard.log
        return yard.came(held=held, words=words, note=f"answers {', '.join(said)}")


def page_beyond_the_machine(folder: Path) -> Warned:
    """The page is to listen on every address of the machine."""
    with watched_yard(folder, extra='host = "0.0.0.0"') as yard:
        yard.strike()
        words = []
        for command in ("run", "check"):
            status, said = yard.command(command)
            first = said.partition("\n")[0]
            if status == 2 and "web.host" in first and "127.0.0.1" in first:
                words.append(yard.word(f"laidup {command}", "refuses, with the way to do it"))
        return yard.came(held=len(words) == 2, words=words)


@contextlib.contextmanager
def _readers(yard: Watched, count: int) -> Iterator[list[int]]:
    """So many readers who ask for the page again and again; the statuses they get."""
    over, answers = threading.Event(), list[int]()

    def read() -> None:
        while not over.is_set():
            status, _ = yard.asked("/", timeout=30)
            answers.append(status)
            if status != 200:
                over.wait(0.2)

    threads = [threading.Thread(target=read) for _ in range(count)]
    for thread in threads:
        thread.start()
    try:
        yield answers
    finally:
        over.set()
        for thread in threads:
            thread.join()


def _curl(yard: Watched, body: Path, *headers: str) -> str:
    """Post a file as curl does; the status that comes back."""
    command = [need("curl", "curl"), "--silent", "--output", "/dev/null", "--max-time", "60"]
    command += ["--write-out", "%{http_code}", "--request", "POST", "--upload-file", str(body)]
    for header in ("Content-Type: application/json", *headers):
        command += ["--header", header]
    address = f"http://127.0.0.1:{yard.port}/api/craft/plover/layup"
    done = subprocess.run([*command, address], capture_output=True, text=True, check=False)
    return done.stdout


def _stored(yard: Watched) -> int:
    """How many readings the store holds."""
    with contextlib.closing(sqlite3.connect(yard.database, timeout=30)) as other:
        return int(other.execute(f"SELECT count(*) FROM {ALL_READINGS}").fetchone()[0])


DRILLS = [
    WarningDrill(name="disk full before a cold night", parts=PARTS, run=disk_full),
    WarningDrill(name="disk filled without end", parts=PARTS, run=filled_without_end),
    WarningDrill(name="disk full at a start", parts=PARTS, run=full_at_start),
    WarningDrill(name="little room on the disk", parts=PARTS, run=little_room),
    WarningDrill(name="a page of the store flipped", parts=PARTS, run=flipped_page),
    WarningDrill(name="the page of alarms flipped", parts=PARTS, run=alarms_page_flipped),
    WarningDrill(name="store missing or empty at a start", parts=PARTS, run=store_gone),
    WarningDrill(name="store removed while laidup runs", parts=PARTS, run=removed_while_running),
    WarningDrill(name="store not writable for a while", parts=PARTS, run=not_writable),
    WarningDrill(name="fifty readers of the page", parts=PARTS, run=fifty_readers),
    WarningDrill(name="400 MB to the JSON API", parts=f"{PARTS}; curl", run=large_body),
    WarningDrill(
        name="a hundred bodies that drip into the JSON API", parts=PARTS, run=dripping_bodies
    ),
    WarningDrill(name="demo on a taken port", parts="", run=demo_on_a_taken_port),
    WarningDrill(
        name="nonsense behind the API's key",
        parts=f"{PARTS}; curl",
        run=nonsense_behind_the_key,
    ),
    WarningDrill(name="page beyond this machine", parts=PARTS, run=page_beyond_the_machine),
]
