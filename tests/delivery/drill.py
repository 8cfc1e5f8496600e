"""Kill -9 between two steps from judgement to mailbox: how each drill is run and what it counts."""

import os
import signal
import subprocess
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from tests.alarms.scene import Scene, cold_night
from tests.real.mail_server import MailServer

ROOT = Path(__file__).parents[2]
READERS = ("maren@yard.example", "owner1@post.example", "owner2@post.example")

# Runs one alarm round and one post over the store's file, and kills itself at a chosen step.
_DRIVER = """
import os, signal, sys
from datetime import timedelta
from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.delivery.channels.mail import MailChannel
from monitor.delivery.channel_post import ChannelPost
from monitor.delivery.post import Post
from monitor.store.outbox import Outbox
from monitor.store.store import Store
from tests.alarms.scene import FOUR, cold_night, yard
from tests.delivery.scene import mail_settings

url, port, step, nth, minutes = sys.argv[1:]
seen = 0

def die(name):
    global seen
    if name == step:
        seen += 1
        if seen == int(nth):
            os.kill(os.getpid(), signal.SIGKILL)

def around(cls, method, before, after):
    original = getattr(cls, method)
    def wrapped(self, *args, **kwargs):
        die(before)
        result = original(self, *args, **kwargs)
        die(after)
        return result
    setattr(cls, method, wrapped)

around(Outbox, "add", "messages not yet added", "messages added, not committed")
around(ChannelPost, "_send_message", "claimed, not sent", "sent, receipt not recorded")
around(ChannelPost, "_settle_receipt", "about to record", "recorded")

clock = ReadingsClock(FOUR + timedelta(minutes=int(minutes)))
store = Store(url, "kettlemoss")
holder = type("Holder", (), {})()
cold_night(holder)
AlarmRound(store, yard(), clock).run(holder.craft)
die("round committed")
Post(store, {"mail": MailChannel(mail_settings(int(port)))}, clock).run_once()
"""

# Each step, and at which message of the round the power fails.
STEPS = {
    "messages not yet added": 1,
    "messages added, not committed": 1,
    "round committed": 1,
    "claimed, not sent": 2,
    "sent, receipt not recorded": 2,
    "about to record": 2,
    "recorded": 2,
}
# The server may have the mail, and nobody has written that down: only here it may come twice.
UNRECORDED = frozenset({"sent, receipt not recorded", "about to record"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Drilled:
    """What one drill came to."""

    step: str
    before: int  # messages the server had when the power failed
    received: Counter[str]  # by person, in the end
    message_ids: int  # different ones among them


def drill(folder: Path, mail_server: MailServer, step: str) -> Drilled:
    """Let the process die at one step, start again a minute later, and count.

    Raises
    ------
    RuntimeError
        If the process did not die there, or the second one failed.
    """
    scene = Scene(folder)
    with scene.store.transaction() as tx:
        tx.assessments.replace_judgements(cold_night(scene))
    scene.store.close()
    died = _drive(scene.url, mail_server.port, step, STEPS[step], 0)
    if died.returncode != -signal.SIGKILL:
        raise RuntimeError(f"{step}: it did not die there: {died.stderr}")
    before = len(mail_server.messages)
    # The claim of the dead holds for an hour, but the new start sees that nobody holds it.
    again = _drive(scene.url, mail_server.port, "none", 1, 1)
    if again.returncode != 0:
        raise RuntimeError(f"{step}: the second start failed: {again.stderr}")
    return Drilled(
        step=step,
        before=before,
        received=Counter(mail.recipients[0] for mail in mail_server.messages),
        message_ids=len({mail.message["Message-ID"] for mail in mail_server.messages}),
    )


def _drive(
    url: str, port: int, step: str, nth: int, minutes: int
) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [sys.executable, "-c", _DRIVER, url, str(port), step, str(nth), str(minutes)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
