"""Every message that leaves carries the record's head in the yard's own signed word."""

import json
from dataclasses import replace
from datetime import UTC, datetime

from monitor.craft.merkle import RecordHead
from monitor.craft.signed_statements import head_in
from monitor.craft.signing_key import fingerprint_of
from monitor.daemon.parts import head_signer
from monitor.delivery.channels.webhook import body_of
from monitor.delivery.leaving_forms import SIGNED_HEAD, as_mail
from monitor.settings.load import load_settings
from monitor.settings.record_key import (
    KeyInUse,
    load_record_key,
    make_record_key,
    rotate_record_key,
)
from monitor.yard.message import Message, MessageKind
from tests.commands.yard_files import copied_yard

HEAD = RecordHead(214, "ab" * 32)


def message(head=str(HEAD)):
    return Message(
        key="a",
        person="maren",
        channel="mail",
        address="maren@kettlemoss.example",
        kind=MessageKind.REPORT,
        subject="The week",
        text="All is well.\n",
        created_at=datetime(2026, 11, 20, tzinfo=UTC),
        record_head=head,
    )


def test_mail_and_post_carry_a_head_that_the_yards_key_signed(tmp_path):
    settings = load_settings(copied_yard(tmp_path))
    public = make_record_key(tmp_path).public
    sent = head_signer(settings)(message())
    mail = as_mail(sent, "alarms@yard.example").as_bytes().decode()
    line = next(each for each in mail.splitlines() if each.startswith(f"{SIGNED_HEAD}: "))
    by_mail = json.loads(line.partition(": ")[2])
    by_post = json.loads(body_of(sent))["data"]["signed_head"]
    assert by_mail == by_post
    assert head_in(by_mail, settings.yard.id) == HEAD
    assert by_mail["public_key"] == public
    assert head_signer(settings)(message()) == sent  # sent twice, it is the same


def test_a_yard_without_a_usable_key_sends_on_unsigned(tmp_path):
    settings = load_settings(copied_yard(tmp_path))
    assert head_signer(settings)(message()) == message()
    make_record_key(tmp_path)
    (tmp_path / "record-key.pem").chmod(0o644)
    assert head_signer(settings)(message()).signed_head == ""


def test_what_is_no_head_is_sent_on_as_it_stands(tmp_path):
    settings = load_settings(copied_yard(tmp_path))
    make_record_key(tmp_path)
    assert load_record_key(tmp_path)
    for odd in ("", "nonsense"):
        assert head_signer(settings)(message(odd)).signed_head == ""


def test_a_running_watch_signs_with_a_rotated_key_and_goes_on_after_a_bad_mode(tmp_path):
    settings = load_settings(copied_yard(tmp_path))
    sign, in_use = head_signer(settings), KeyInUse(tmp_path, settings.yard.id)
    assert (sign(message()).signed_head, in_use.read_now()) == ("", None)
    old = make_record_key(tmp_path)
    assert json.loads(sign(message()).signed_head)["public_key"] == old.public
    new = rotate_record_key(tmp_path, settings.yard.id, datetime(2026, 11, 21, tzinfo=UTC))
    assert json.loads(sign(message()).signed_head)["public_key"] == new.public
    found = in_use.read_now()
    assert (found.key.public, len(found.successions)) == (new.public, 1)
    (tmp_path / "record-key.pem").chmod(0o644)
    assert (sign(message()).signed_head, in_use.read_now()) == ("", None)
    (tmp_path / "record-key.pem").chmod(0o600)
    assert json.loads(sign(message()).signed_head)["public_key"] == new.public


def test_the_foot_of_a_signed_mail_names_the_key_before_the_head(tmp_path):
    settings = load_settings(copied_yard(tmp_path))
    key = fingerprint_of(make_record_key(tmp_path).public)
    sent = head_signer(settings)(message())
    for language, words in (("en", "Key of the yard"), ("de", "Schlüssel des Winterlagers")):
        mail = as_mail(replace(sent, language=language), "alarms@yard.example")
        *_, above, last = mail.get_content().rstrip().splitlines()
        assert above == f"{words}: {key}"
        assert last.endswith(HEAD.short)
    assert key not in as_mail(message(), "alarms@yard.example").get_content()
