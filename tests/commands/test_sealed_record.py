"""A season record as the yard gives it: sealed with its proof, checked where there is no yard."""

import json
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pypdf
import pytest

from monitor.craft.canonical import canonical_bytes
from monitor.craft.sealing import DIGESTS, SEAL, seal_record
from monitor.craft.signing_key import SigningKey, fingerprint_of
from monitor.settings.record_key import load_record_key
from monitor.store.closing_days import close_due_days
from monitor.store.store import Store
from monitor.yard.message import Message, MessageKind
from tests.commands.yard_files import copied_yard, fill, laidup

NOW = datetime(2026, 11, 20, 12, tzinfo=UTC)
CRAFT = "k1"


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    """Files of a yard with days that are closed, and the head in a mail to one craft's owner."""
    file = copied_yard(tmp_path_factory.mktemp("yard"))
    settings = fill(file, NOW)
    owner = next(one.craft.owner for one in settings.craft if one.craft.id == CRAFT)
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        close_due_days(store, NOW - timedelta(days=2))
        with store.transaction() as tx:
            tx.outbox.add([letter(owner)])
        close_due_days(store, NOW + timedelta(hours=18))
        with store.snapshot() as tx:
            [head] = [head for person, head in tx.outbox.heads_by_person() if person == owner]
    assert laidup("record", CRAFT, "--season", "2026", *out(file, "k1.json")) == 0
    return file, head


def letter(person):
    return Message(
        key=f"week-{person}",
        person=person,
        channel="mail",
        address=f"{person}@kettlemoss.example",
        kind=MessageKind.REPORT,
        subject="The week",
        text="All is well.\n",
        created_at=NOW - timedelta(days=2),
    )


def out(file, name):
    return "--out", str(file.parent / name), "--config", str(file)


@pytest.fixture
def handed_over(yard, tmp_path, monkeypatch):
    """The record's file in a folder of its own, in which nothing of the yard is."""
    file, _ = yard
    copied = tmp_path / "k1.json"
    copied.write_bytes((file.parent / "k1.json").read_bytes())
    monkeypatch.chdir(tmp_path)
    return copied


def answer(capsys, *arguments):
    capsys.readouterr()
    status = laidup("verify", *map(str, arguments))
    return status, capsys.readouterr().out


def test_it_holds_by_the_head_of_a_mail_and_by_the_key(yard, handed_over, capsys):
    file, head = yard
    status, said = answer(capsys, handed_over, "--head", head.short)
    assert (status, f"extends what the yard's record was at {head.short}" in said) == (0, True)
    assert answer(capsys, handed_over, "--key", load_record_key(file.parent).public)[0] == 0
    assert answer(capsys, handed_over, "--head", replace(head, root="0" * 64))[0] == 1


def test_it_shows_each_day_of_its_own_space_and_of_no_other(handed_over):
    said = json.loads(handed_over.read_bytes())
    [kept] = said["kept"]
    sensors = {one["name"] for one in said["sensors"]}
    of_others = {one["name"] for one in said["sensors"] if one["space"] != kept["space"]}
    assert len(of_others) == 1  # the volts of its own battery, which nobody has read
    shown = {day["day"]: {g["of"][1] for g in day["groups"] if g["of"][0] == "hour"}
             for day in said["proof"]["days"]}  # fmt: skip
    # Four days of readings up to noon reach into five days of UTC.
    with_hours = {day: found for day, found in shown.items() if found}
    assert sorted(with_hours) == [f"2026-11-{n}" for n in range(16, 21)]
    assert all(found == sensors - of_others for found in with_hours.values())
    letters = {g["of"][1] for day in said["proof"]["days"] for g in day["groups"]
               if g["of"][0] == "letter"}  # fmt: skip
    assert letters == {said["craft"]["owner"]}
    proof = json.dumps(said["proof"])
    assert f'"{CRAFT}"' in proof
    assert not any(f'"k{n}"' in proof for n in range(2, 13))


def test_one_who_changes_an_entry_is_told_which(handed_over, yard, capsys):
    said = json.loads(handed_over.read_bytes())
    said["work"][0]["versions"][0]["entry"]["by"] = "somebody else"
    handed_over.write_bytes(canonical_bytes(said))
    status, told = answer(capsys, handed_over, "--head", yard[1].short)
    assert status == 1
    assert f"DOES NOT HOLD. work[0] ({said['work'][0]['id']}) is not what was sealed" in told


def test_a_yard_that_seals_another_hour_anew_is_told_which(yard, handed_over, capsys):
    """The yard itself has the key: what its days' roots and the mails hold it cannot change."""
    file, head = yard
    said = json.loads(handed_over.read_bytes())
    day, group = next(
        (day, g) for day in said["proof"]["days"] for g in day["groups"] if g["of"][0] == "hour"
    )
    group["leaves"][3][2][1] += 500  # the lowest of the hour, 5 K milder
    del said[DIGESTS], said[SEAL]
    key = load_record_key(file.parent)
    handed_over.write_bytes(canonical_bytes(seal_record(said, key)))
    status, told = answer(capsys, handed_over, "--head", head.short, "--key", key.public)
    assert status == 1
    hour = datetime.fromtimestamp(group["leaves"][3][0] * 3600, UTC)
    assert f"{hour:%Y-%m-%d %H:%M} UTC" in told
    assert group["of"][1] in told
    assert day["day"] in told


def test_the_pdf_holds_the_same_sealed_bytes_and_names_the_key(yard, capsys, tmp_path):
    file, head = yard
    assert laidup("record", CRAFT, "--season", "2026", *out(file, "k1.pdf")) == 0
    pdf = pypdf.PdfReader(file.parent / "k1.pdf")
    inside = tmp_path / "inside.json"
    inside.write_bytes(pdf.attachments["season-record.json"][0])
    assert answer(capsys, inside, "--head", head.short)[0] == 0
    text = " ".join(page.extract_text() for page in pdf.pages)
    assert fingerprint_of(load_record_key(file.parent).public) in text


def test_every_craft_of_the_yard_is_sealed(yard, capsys, tmp_path):
    file, _ = yard
    folder = tmp_path / "all"
    ids = ["k1", "k8"]
    assert (
        laidup("record", *ids, "--season", "2026", "--out", str(folder), "--config", str(file)) == 0
    )
    public = load_record_key(file.parent).public
    for one in sorted(folder.glob("*.json")):
        assert answer(capsys, one, "--key", public)[0] == 0
        assert answer(capsys, one, "--key", SigningKey.make_new().public)[0] == 1
    assert len(list(folder.glob("*.json"))) == len(ids)


def test_a_key_that_others_may_read_seals_nothing(tmp_path, capsys):
    file = copied_yard(tmp_path)
    laidup("import", "craft", str(tmp_path / "craft.toml"), "--config", str(file))
    laidup("key", "--config", str(file))
    (tmp_path / "record-key.pem").chmod(0o644)
    assert laidup("record", "k8", "--season", "2026", *out(file, "k8.json")) == 2
    assert "chmod 600" in capsys.readouterr().err
    assert not (tmp_path / "k8.json").exists()
