"""The log: in the form of who reads it, and above debug without a word about a person."""

import io
import json
import logging
import os
import random

import pytest

from monitor.commands.logs import JournalFormatter, JsonFormatter, is_journal
from monitor.delivery.post import Post
from monitor.yard.message import DeliveryOutcome
from tests.alarms.scene import Scene, cold_night
from tests.delivery.scene import Recorder


def line_of(formatter: logging.Formatter, level: int, words: str, error: bool = False) -> str:
    stream = io.StringIO()
    log = logging.Logger("monitor.test")
    log.addHandler(handler := logging.StreamHandler(stream))
    handler.setFormatter(formatter)
    if error:
        try:
            raise ValueError("the far side")
        except ValueError:
            log.exception(words)
    else:
        log.log(level, words)
    return stream.getvalue()


# Priorities of syslog, RFC 5424, section 6.2.1.
@pytest.mark.parametrize(
    ("level", "number"),
    [(logging.DEBUG, 7), (logging.INFO, 6), (logging.WARNING, 4), (logging.ERROR, 3),
     (logging.CRITICAL, 2)],
)  # fmt: skip
def test_the_journal_gets_the_priority_and_no_second_time(level, number):
    formatter = JournalFormatter("%(name)s: %(message)s")
    assert line_of(formatter, level, "x") == f"<{number}>monitor.test: x\n"


def test_each_line_of_a_traceback_has_its_priority():
    lines = line_of(JournalFormatter("%(message)s"), logging.ERROR, "failed", error=True)
    assert len(lines.splitlines()) > 3
    assert all(line.startswith("<3>") for line in lines.splitlines())


def test_a_failure_is_one_line_of_json():
    line = line_of(JsonFormatter(), logging.ERROR, "failed", error=True)
    said = json.loads(line)
    assert (said["level"], said["said"]) == ("error", "failed")
    assert "the far side" in said["why"]
    assert said["at"].endswith("+00:00")


def test_the_journal_is_known_by_its_device_and_inode(tmp_path):
    with (tmp_path / "log").open("w") as stream:
        status = os.fstat(stream.fileno())
        assert is_journal(stream, f"{status.st_dev}:{status.st_ino}")
        assert not is_journal(stream, f"{status.st_dev}:{status.st_ino + 1}")
        assert not is_journal(stream, None)


@pytest.mark.parametrize("outcome", DeliveryOutcome)
def test_at_info_no_person_is_named(tmp_path, caplog, outcome):
    caplog.set_level(logging.DEBUG)
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    for _ in range(3):
        scene.judge(*judged)
        scene.after(minutes=1)
    for thread in {message.thread for message in scene.messages("maren")}:
        scene.acknowledge_thread(thread, "maren")
    scene.judge(*judged)
    channels = {"mail": Recorder(*[outcome] * 9)}
    post = Post(scene.store, channels, scene.clock, chance=random.Random(1))
    for _ in range(3):
        post.run_once()
        scene.after(minutes=5)
    people = scene.yard.people
    personal = [word for one in people for word in (one.id, one.name, one.mail, one.phone) if word]
    said = [r.getMessage() for r in caplog.records if r.levelno > logging.DEBUG]
    assert any("mail" in line for line in said)
    assert [line for line in said for word in personal if word in line] == []
    at_debug = " ".join(r.getMessage() for r in caplog.records if r.levelno == logging.DEBUG)
    assert "maren" in at_debug
