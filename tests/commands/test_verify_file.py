"""``laidup verify FILE`` and ``laidup key``: a yard's record checked without the yard."""

import json
from contextlib import closing
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import update

from monitor.clock import to_ms
from monitor.commands.warnings import tell_record_key
from monitor.craft.canonical import canonical_bytes
from monitor.craft.merkle import RecordHead
from monitor.craft.sealing import seal_record
from monitor.craft.signing_key import SigningKey, fingerprint_of
from monitor.errors import ConfigurationError
from monitor.settings.load import load_settings
from monitor.settings.record_key import load_record_key, make_record_key, read_successions
from monitor.store.closing_days import close_due_days
from monitor.store.record_proof import SeasonProofs
from monitor.store.store import Store
from monitor.store.tables import readings
from monitor.yard.message import Message, MessageKind
from monitor.yard.reading import Channel
from tests.commands.yard_files import copied_yard, fill, laidup

NOW = datetime(2026, 11, 20, 12, tzinfo=UTC)
DAY = timedelta(days=1)
CRAFT, SPACE = "k1", "stove-barn"


@pytest.fixture(scope="module")
def yard(tmp_path_factory):
    """A yard with readings, days that are closed, and a mail to an owner in the middle of them."""
    file = copied_yard(tmp_path_factory.mktemp("yard"))
    settings = fill(file, NOW)
    laidup("key", "--config", str(file))
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        close_due_days(store, NOW - timedelta(days=2))
        with store.transaction() as tx:
            tx.outbox.add([letter("maren")])
        close_due_days(store, NOW + timedelta(hours=18))
    return settings


def letter(person):
    return Message(
        key=f"week-{person}",
        person=person,
        channel="mail",
        address=f"{person}@kettlemoss.example",
        kind=MessageKind.REPORT,
        subject="The week",
        text="All is well.\n",
        html="",
        thread="",
        created_at=NOW - timedelta(days=2),
    )


def sensors_of(settings, space=SPACE):
    return [one.name for one in settings.yard.sensors if one.space == space]


def sealed_file(settings, folder, key=None):
    key = key or load_record_key(settings.file.parent)
    days = [date(2026, 11, 14) + timedelta(days=n) for n in range(10)]
    with closing(Store(settings.store_url, settings.yard.id)) as store, store.snapshot() as tx:
        proofs = SeasonProofs(tx, settings.yard.id, days[0], days[-1], key, NOW)
        proof = proofs.proof_of(
            CRAFT, dict.fromkeys(sensors_of(settings), days), [SPACE], ["maren"]
        )
        heads = tx.outbox.heads_by_person()
    document = {
        "yard": {"id": settings.yard.id},
        "craft": {"id": CRAFT},
        "work": [{"id": "w1", "act": "drained"}, {"id": "w2", "act": "fogged"}],
        "proof": proof,
    }
    file = folder / "record.json"
    file.write_bytes(
        canonical_bytes(
            seal_record(document, key, read_successions(settings.file.parent, settings.yard.id))
        )
    )
    return file, heads[0][1]


def answer(capsys, *arguments):
    capsys.readouterr()
    status = laidup("verify", *map(str, arguments))
    return status, capsys.readouterr().out


def test_a_record_holds_by_the_key_and_by_a_mail_without_any_yard(
    yard, tmp_path, capsys, monkeypatch
):
    file, head = sealed_file(yard, tmp_path)
    monkeypatch.chdir(tmp_path)  # nothing of a yard is here
    public = load_record_key(yard.file.parent).public
    status, said = answer(capsys, file, "--key", public)
    assert status == 0
    assert "It holds" in said
    status, said = answer(capsys, file, "--head", head.short)
    assert status == 0
    assert f"extends what the yard's record was at {head.short}" in said


def test_the_proof_shows_its_own_hours_and_nothing_of_others(yard, tmp_path):
    file, _ = sealed_file(yard, tmp_path)
    said = json.loads(file.read_text())
    of = [tuple(g["of"][:2]) for day in said["proof"]["days"] for g in day["groups"]]
    own = {("hour", one) for one in sensors_of(yard)}
    # Four days of readings reach into five days of UTC.
    assert len([one for one in of if one in own]) == 5 * len(own)
    assert {one for one in of if one[0] == "letter"} == {("letter", "maren")}
    text = file.read_text()
    for sensor in yard.yard.sensors:
        if sensor.space != SPACE:
            assert sensor.name not in text
    assert not any(f'"craft":"k{n}"' in text for n in range(2, 13))


def test_without_a_key_or_head_it_says_that_nobody_vouches(yard, tmp_path, capsys):
    file, _ = sealed_file(yard, tmp_path)
    status, said = answer(capsys, file)
    assert status == 1
    assert "give --key" in said


def test_what_was_changed_is_named_in_words_and_in_json(yard, tmp_path, capsys):
    file, _ = sealed_file(yard, tmp_path)
    said = json.loads(file.read_text())
    said["work"][1]["act"] = "drained"
    file.write_bytes(canonical_bytes(said))
    public = load_record_key(yard.file.parent).public
    status, told = answer(capsys, file, "--key", public)
    assert status == 1
    assert "DOES NOT HOLD. work[1] (w2) is not what was sealed" in told
    status, told = answer(capsys, file, "--key", public, "--json")
    found = json.loads(told)
    assert (status, found["holds"], found["misfits"][0]["place"]) == (1, False, "work[1]")


def test_a_head_that_the_record_does_not_extend_is_told(yard, tmp_path, capsys):
    file, head = sealed_file(yard, tmp_path)
    forged = RecordHead(head.count, "0" * 64)
    status, told = answer(capsys, file, "--head", forged)
    assert status == 1
    assert "rewritten" in told


@pytest.mark.parametrize(
    ("arguments", "status"),
    [(["gone.json"], 2), (["--key", "ab"], 2), (["gone.json", "--key", "ab"], 2)],
)
def test_what_cannot_be_used_is_refused_with_status_2(arguments, status, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert laidup("verify", *arguments) == status


def test_a_rotated_key_is_vouched_for_by_the_old_one(tmp_path, capsys):
    file = copied_yard(tmp_path)
    settings = fill(file, NOW)
    laidup("key", "--config", str(file))
    old = load_record_key(tmp_path).public
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        close_due_days(store, NOW)
        with store.transaction() as tx:
            tx.outbox.add([letter("maren")])
    assert laidup("key", "--rotate", "--config", str(file)) == 0
    assert load_record_key(tmp_path).public != old
    sealed, _ = sealed_file(settings, tmp_path)
    assert answer(capsys, sealed, "--key", old)[0] == 0
    assert answer(capsys, sealed, "--key", SigningKey.make_new().public)[0] == 1


def test_a_key_that_others_may_read_is_refused_with_the_remedy(tmp_path, capsys):
    file = copied_yard(tmp_path)
    laidup("key", "--config", str(file))
    assert (tmp_path / "record-key.pem").stat().st_mode & 0o777 == 0o600
    (tmp_path / "record-key.pem").chmod(0o644)
    assert laidup("key", "--config", str(file)) == 2
    told = capsys.readouterr().err
    assert "mode 644" in told
    assert "chmod 600" in told


def test_a_lost_key_is_told_and_another_is_made_only_when_asked_for(tmp_path, capsys):
    file = copied_yard(tmp_path)
    for said in ((), ("--rotate",)):
        laidup("key", *said, "--config", str(file))
        key = (tmp_path / "record-key.pem").rename(tmp_path / "away")
        capsys.readouterr()
        assert laidup("key", "--config", str(file)) == 2, said
        assert "laidup key --make" in capsys.readouterr().err
        key.rename(tmp_path / "record-key.pem")
    (tmp_path / "record-key.pem").unlink()
    assert laidup("key", "--make", "--config", str(file)) == 0
    assert laidup("key", "--make", "--config", str(file)) == 2


def test_a_yard_that_is_handed_over_as_a_folder_signs_on_with_its_key(tmp_path, capsys):
    before, after = tmp_path / "before", tmp_path / "after"
    file = copied_yard(before)
    laidup("key", "--config", str(file))
    public = load_record_key(before).public
    before.rename(after)
    capsys.readouterr()
    laidup("key", "--json", "--config", str(after / "yard.toml"))
    assert json.loads(capsys.readouterr().out)["public_key"] == public
    assert load_settings(after / "yard.toml").yard.id == "kettlemoss"


def test_a_reading_that_was_changed_in_the_store_is_named_by_verify_and_the_key_by_check(
    tmp_path, capsys
):
    file = copied_yard(tmp_path)
    settings = fill(file, NOW, days=2)
    laidup("key", "--config", str(file))
    with closing(Store(settings.store_url, settings.yard.id)) as store:
        close_due_days(store, NOW + timedelta(hours=18))
    status, told = answer(capsys, "--config", file)
    assert (status, "closed days" in told, "NOT WHAT" in told) == (0, True, False)
    [sensor, *_] = sensors_of(settings)
    with closing(Store(settings.store_url, settings.yard.id)) as store, store.transaction() as tx:
        series = tx.series.known_series()[sensor, Channel.TEMPERATURE]
        of_hour = (readings.c.series_id == series) & (readings.c.at_ms == to_ms(NOW - DAY))
        changed = update(readings).where(of_hour).values(value=5000)
        assert tx._connection.execute(changed).rowcount == 1
    status, told = answer(capsys, "--config", file)
    assert (status, "the lay-up record is whole" in told) == (1, True)
    assert f"Readings of {sensor} in the hour from 2026-11-19 12:00 UTC are not" in told
    assert "to 50 Cel now" in told
    status, told = answer(capsys, "--config", file, "--json")
    assert (status, json.loads(told)["breaks"][0]["what"]) == (1, "changed")
    public = load_record_key(file.parent).public
    line = tell_record_key(settings)
    assert "mode 600" in line
    assert fingerprint_of(public) in line


def test_check_refuses_a_key_that_others_may_read_and_waits_for_one_that_was_never_made(tmp_path):
    settings = load_settings(copied_yard(tmp_path))
    assert "none yet" in tell_record_key(settings)
    make_record_key(tmp_path)
    (tmp_path / "record-key.pem").chmod(0o640)
    with pytest.raises(ConfigurationError, match="mode 640"):
        tell_record_key(settings)
