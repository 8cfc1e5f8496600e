"""Kill -9 between every two steps from judgement to mailbox, and count what each person got."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.alarms.scene import Scene, cold_night

ROOT = Path(__file__).parents[2]

# Runs one alarm round and one post over the store's file, and kills itself at a chosen step.
DRIVER = """
import os, signal, sys
from datetime import timedelta
from pathlib import Path
from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.delivery.channels.mail import MailChannel
from monitor.delivery.post import Post
from monitor.store.outbox import Outbox
from monitor.store.store import Store
from tests.alarms.scene import FOUR, Scene, cold_night, yard
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
around(Post, "_send", "claimed, not sent", "sent, receipt not recorded")
around(Post, "_settle", "about to record", "recorded")

clock = ReadingsClock(FOUR + timedelta(minutes=int(minutes)))
store = Store(url, "kettlemoss")
holder = type("Holder", (), {})()
cold_night(holder)
AlarmRound(store, yard(), clock).run(holder.craft)
die("round committed")
Post(store, {"mail": MailChannel(mail_settings(int(port)))}, clock).run_once()
"""

STEPS = {
    "messages not yet added": 1,
    "messages added, not committed": 1,
    "round committed": 1,
    "claimed, not sent": 2,
    "sent, receipt not recorded": 2,
    "about to record": 2,
    "recorded": 2,
}


def drive(url, port, step, nth, minutes):
    return subprocess.run(
        [sys.executable, "-c", DRIVER, url, str(port), step, str(nth), str(minutes)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


@pytest.mark.parametrize("step", STEPS)
def test_whoever_must_be_told_is_told_whatever_moment_the_power_fails(tmp_path, mail_server, step):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    with scene.store.transaction() as tx:
        tx.assessments.replace(judged)
    scene.store.close()
    died = drive(scene.url, mail_server.port, step, STEPS[step], 0)
    assert died.returncode == -signal.SIGKILL, died.stderr
    # Twelve minutes later the claim of the dead has run out.
    again = drive(scene.url, mail_server.port, "none", 1, 12)
    assert again.returncode == 0, again.stderr

    got = [mail.recipients[0] for mail in mail_server.messages]
    assert set(got) == {"maren@yard.example", "owner1@post.example", "owner2@post.example"}
    doubled = len(got) - len(set(got))
    # At least once: a mail that the server took, but whose receipt was not yet recorded, comes
    # twice, and is the same mail to any mail program.
    unrecorded = step in {"sent, receipt not recorded", "about to record"}
    assert doubled == (1 if unrecorded else 0)
    assert len({mail.message["Message-ID"] for mail in mail_server.messages}) == 3
