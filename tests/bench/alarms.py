"""How fast do alarms become messages in people's hands? `python -m tests.bench.alarms`.

Ten thousand alarms at once: 2,500 craft with four circuits each, owned by 1,000 people, turn bad in
one round. Told is the time from the start of that round until the mail server has the first and the
last message. Floors, in the same run: the same rows put into the same database by one raw insert,
and as many mails of the same size sent by smtplib over one connection each, as a sender without an
outbox would. Then a quiet round: 2,000 craft whose 8,000 judgements change nothing.
"""

import argparse
import smtplib
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from statistics import median

from monitor.delivery.channels.mail import MailChannel
from monitor.delivery.post import Post
from monitor.store.transaction import Transaction
from monitor.yard.assessment import Assessment, Standing
from monitor.yard.space import Person, Role
from tests.alarms.scene import FOUR, MECHANIC, OPERATOR, Scene, craft, frost, yard
from tests.delivery.scene import mail_settings
from tests.real.mail_server import MailServer

PARTS = 4


class Timed(MailServer):
    """A mail server that notes when each mail came."""

    def __init__(self) -> None:
        super().__init__()
        self.at_s: list[float] = []

    async def handle_DATA(self, server, session, envelope):  # type: ignore[no-untyped-def]  # noqa: N802
        """Keep the mail and the time."""
        self.at_s.append(time.perf_counter())
        return await super().handle_DATA(server, session, envelope)


def a_yard(folder: Path, count: int, owners: int) -> tuple[Scene, list[Assessment]]:
    """A yard of ``count`` craft of four circuits each, and a bad judgement of each circuit."""
    people = tuple(
        Person(id=f"o{n}", name=f"Owner {n}", mail=f"o{n}@post.example",
               roles=frozenset({Role.OWNER}))
        for n in range(owners)
    )  # fmt: skip
    scene = Scene(folder, yard((OPERATOR, MECHANIC, *people)))
    scene.craft = {
        f"c{n}": craft(f"c{n}", f"Craft {n}", "shed", owner=f"o{n % owners}", parts=PARTS)
        for n in range(count)
    }
    deadline = FOUR + timedelta(hours=6)
    judged = [
        frost(one, Standing.EXPOSED, FOUR, part=circuit.id, deadline=deadline)
        for one in scene.craft.values()
        for circuit in one.circuits
    ]
    return scene, judged


def raised_at_once(count: int, owners: int) -> dict[str, float]:
    """One round in which every circuit of ``count`` craft turns bad, and the post after it."""
    server = Timed()
    server.start()
    try:
        with tempfile.TemporaryDirectory() as folder:
            scene, judged = a_yard(Path(folder), count, owners)
            with scene.store.transaction() as tx:
                tx.assessments.replace_judgements(judged)
            held_s = writing_held(scene)
            begin_s = time.perf_counter()
            summary = scene.round.run(scene.craft)
            round_s = time.perf_counter() - begin_s
            channel = MailChannel(mail_settings(server.port, within_s=30.0))
            taken = Post(scene.store, {"mail": channel}, scene.clock).run_once().taken
            assert summary.raised == count * PARTS, summary
            assert taken == summary.messages == len(server.at_s)
            insert_s = raw_insert(Path(folder), summary.raised)
            size = sum(len(bytes(mail.message)) for mail in server.messages) // taken
            times_s = [at_s - begin_s for at_s in server.at_s]
            scene.store.close()
        send_s = raw_send(server, taken, size)
    finally:
        server.stop()
    return {
        "alarms": summary.raised,
        "messages": taken,
        "round": round_s,
        "held": max(held_s),
        "first": times_s[0],
        "last": times_s[-1],
        "insert": insert_s,
        "send": send_s,
    }


def writing_held(scene: Scene) -> list[float]:
    """Seconds for which each transaction from now on keeps everybody else from writing."""
    held_s: list[float] = []
    begin = scene.store.transaction

    @contextmanager
    def timed() -> Iterator[Transaction]:
        with begin() as tx:
            begin_s = time.perf_counter()
            yield tx
        held_s.append(time.perf_counter() - begin_s)

    scene.store.transaction = timed  # type: ignore[method-assign]
    return held_s


def raw_insert(folder: Path, alarms: int) -> float:
    """Seconds to put as many alarms, changes and watches into SQLite by one raw insert each."""
    with closing(sqlite3.connect(folder / "laidup.db")) as found:
        tables = ("alarms", "alarm_events", "alarm_watches")
        rows = {name: found.execute(f"select * from {name}").fetchall() for name in tables}
    with closing(sqlite3.connect(folder / "floor.db")) as floor:
        floor.execute("pragma journal_mode=wal")
        floor.execute("pragma synchronous=full")
        begin_s = time.perf_counter()
        for name, content in rows.items():
            marks = ", ".join(f"c{n}" for n in range(len(content[0])))
            floor.execute(f"create table {name} ({marks})")
            places = ", ".join("?" * len(content[0]))
            floor.executemany(f"insert into {name} values ({places})", content)
        floor.commit()
        took_s = time.perf_counter() - begin_s
    assert len(rows["alarms"]) == alarms
    return took_s


def raw_send(server: Timed, count: int, size: int) -> float:
    """Seconds for smtplib alone to hand over as many mails of that size."""
    body = f"From: a@b.example\r\nTo: c@d.example\r\n\r\n{'x' * 70}\r\n"
    body += ("x" * 70 + "\r\n") * (size // 72)
    begin_s = time.perf_counter()
    for _ in range(count):
        with smtplib.SMTP(server.host, server.port) as line:
            line.sendmail("a@b.example", ["c@d.example"], body)
    return time.perf_counter() - begin_s


def quiet_round(count: int, rounds: int = 5) -> float:
    """Seconds of a round over ``count`` craft in which nothing changes."""
    with tempfile.TemporaryDirectory() as folder:
        scene, judged = a_yard(Path(folder), count, 500)
        holding = [replace(each, standing=Standing.HOLDING, margin_k=9.0) for each in judged]
        taken_s = []
        for _ in range(rounds):
            scene.after(minutes=1)
            with scene.store.transaction() as tx:
                tx.assessments.replace_judgements(
                    replace(each, at=scene.clock.now()) for each in holding
                )
            begin_s = time.perf_counter()
            scene.round.run(scene.craft)
            taken_s.append(time.perf_counter() - begin_s)
        scene.store.close()
    return median(taken_s)


def main() -> None:
    """Print both."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--craft", type=int, default=2500)
    parser.add_argument("--owners", type=int, default=1000)
    chosen = parser.parse_args()
    got = raised_at_once(chosen.craft, chosen.owners)
    print(f"{got['alarms']:.0f} alarms at once, {got['messages']:.0f} messages")
    print(f"  raw insert of the same rows   {got['insert']:8.2f} s")
    ratio = got["round"] / got["insert"]
    print(f"  the round                     {got['round']:8.2f} s   {ratio:6.1f} times the insert")
    ratio = got["held"] / got["insert"]
    print(f"  of it nobody else can write   {got['held']:8.2f} s   {ratio:6.1f} times the insert")
    print(f"  raw send of as many mails     {got['send']:8.2f} s")
    print(f"  first message handed over     {got['first']:8.2f} s")
    ratio = (got["last"] - got["round"]) / got["send"]
    print(f"  last message handed over      {got['last']:8.2f} s   {ratio:6.1f} times the send")
    took_s = quiet_round(2000)
    print(f"a round over 2000 craft in which nothing changes: {took_s:.2f} s")


if __name__ == "__main__":
    main()
