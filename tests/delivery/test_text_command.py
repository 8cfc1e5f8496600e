"""Texts by a program of the yard's own: what it gets, and what becomes of each of its answers."""

import time
from pathlib import Path

import pytest

from monitor.delivery.channels.text_command import (
    TEXT_COMMAND,
    TextCommandChannel,
    TextCommandSettings,
)
from monitor.errors import BadValueError, DeliveryError
from monitor.yard.message import DeliveryOutcome
from tests.delivery.scene import message

NUMBER = "715-555-0142"


def program(tmp_path: Path, script: str) -> Path:
    path = tmp_path / "send-text"
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)
    return path


def sent(tmp_path: Path, script: str, within_s: float = 30.0, **changes):
    made = TextCommandSettings(
        command=(str(program(tmp_path, script)), "--modem"), within_s=within_s
    )
    text = message(**{"channel": "text-command", "address": NUMBER, **changes})
    return TextCommandChannel(made).send(text)


def test_the_program_gets_the_number_last_and_the_text_on_its_input(tmp_path, monkeypatch):
    monkeypatch.setenv("LAIDUP_MAIL_PASSWORD", "s3cret")
    script = f'echo "$@" > {tmp_path}/args; cat > {tmp_path}/text; env > {tmp_path}/env'
    said = "Drain Teal by 18:00; $(reboot)"
    assert sent(tmp_path, script, subject=said, text=said).outcome is DeliveryOutcome.TAKEN
    assert (tmp_path / "args").read_text() == f"--modem {NUMBER}\n"
    assert "$(reboot)" in (tmp_path / "text").read_text()  # no shell has read it
    assert "s3cret" not in (tmp_path / "env").read_text()


# sysexits.h of 4.3BSD: 65 EX_DATAERR, 67 EX_NOUSER, 69 EX_UNAVAILABLE, 75 EX_TEMPFAIL.
@pytest.mark.parametrize(
    ("status", "outcome"),
    [
        (65, DeliveryOutcome.REFUSED),
        (67, DeliveryOutcome.REFUSED),
        (1, DeliveryOutcome.PUT_OFF),
        (69, DeliveryOutcome.PUT_OFF),
        (75, DeliveryOutcome.PUT_OFF),
    ],
)
def test_its_exit_status_says_whether_a_later_try_can_succeed(tmp_path, status, outcome):
    receipt = sent(tmp_path, f"echo no carrier >&2; exit {status}")
    assert (receipt.outcome, receipt.detail) == (outcome, f"exit status {status}: no carrier")


def test_one_that_hangs_is_ended_with_what_it_started_and_tried_again(tmp_path):
    receipt = sent(tmp_path, f"(sleep 2; touch {tmp_path}/outlived) & sleep 60", within_s=0.3)
    assert receipt.outcome is DeliveryOutcome.PUT_OFF
    time.sleep(2.5)
    assert not (tmp_path / "outlived").exists()


def test_one_that_cannot_be_run_puts_the_text_off_and_one_that_ignores_its_input_sends(tmp_path):
    missing = TextCommandChannel(TextCommandSettings(command=(str(tmp_path / "none"),)))
    assert missing.send(message(address=NUMBER)).outcome is DeliveryOutcome.PUT_OFF
    assert sent(tmp_path, "exec <&-; exit 0").outcome is DeliveryOutcome.TAKEN


def test_a_program_is_named_by_its_whole_path():
    with pytest.raises(BadValueError, match="whole path"):
        TextCommandSettings(command=("send-text",))


@pytest.mark.parametrize(
    ("mode", "says"), [(0o644, "may not run it"), (0o757, "may rewrite it"), (None, "no such file")]
)
def test_the_check_names_what_keeps_the_program_from_running(tmp_path, mode, says):
    path = program(tmp_path, f"touch {tmp_path}/ran")
    made = TextCommandSettings(command=(str(path),))
    assert "can be run" in TEXT_COMMAND.try_out(made, None, "yard")
    path.chmod(mode) if mode else path.unlink()
    with pytest.raises(DeliveryError, match=says):
        TEXT_COMMAND.try_out(made, None, "yard")
    assert not (tmp_path / "ran").exists()  # nobody's phone rings
