"""``laidup record``: for people, for machines, into files; and what it refuses."""

import json
from datetime import UTC, datetime, timedelta

import pytest

from monitor.commands import record as record_command
from monitor.commands import record_mails
from monitor.craft.layup import Act
from monitor.errors import LaidupError
from monitor.settings.load import load_settings
from monitor.settings.record_key import KEY_FILE, PDF_KEY_FILE
from monitor.store.store import Store
from tests.commands.yard_files import copied_yard, laidup
from tests.craft.scene import work
from tests.set_clock import SetClock


@pytest.fixture
def yard(tmp_path):
    """The demo's yard, its craft on record, and not one reading."""
    config = copied_yard(tmp_path)
    laidup("import", "craft", str(tmp_path / "craft.toml"), "--config", str(config))
    return config


@pytest.fixture
def record(yard, capsys):
    """Runs the command; tells status, stdout and stderr."""

    def run(*arguments):
        capsys.readouterr()
        status = laidup("record", *arguments, "--config", str(yard))
        said = capsys.readouterr()
        return status, said.out, said.err

    return run


def test_one_craft_is_told_in_short(record):
    status, out, _ = record("Heron", "--season", "2026")
    assert status == 0
    assert out.startswith("Heron, season 2026/27: in the yard ")
    assert "guarantee" not in out
    assert "life-safety" in out


def test_machines_get_one_document_a_craft(record):
    told = json.loads(record("k8", "--season", "2026", "--json")[1])
    assert told["laidup_record"] == 1
    assert (told["craft"]["name"], told["season"]["year"]) == ("Heron", 2026)
    assert {one["verdict"] for one in told["nights"]} <= {"not known"}  # nothing was ever heard
    assert told["watch"]["heard_h"] == 0.0
    assert told["watch"]["stood_h"] > 0.0
    several = json.loads(record("k8", "k1", "--season", "2026", "--json")[1])
    assert [one["craft"]["id"] for one in several] == ["k8", "k1"]


def test_all_go_into_a_folder_a_file_a_craft(record, tmp_path):
    folder = tmp_path / "records"
    status, out, _ = record("--all", "--season", "2026", "--out", str(folder))
    assert status == 0
    assert "12 records of the season 2026/27" in out
    assert len(list(folder.glob("*.pdf"))) == 12
    written = {path.name: json.loads(path.read_bytes()) for path in folder.glob("*.json")}
    assert len(written) == 12
    assert written["season-2026-k8.json"]["craft"]["name"] == "Heron"


def test_a_file_of_one_craft_is_in_the_form_that_its_ending_says(record, tmp_path):
    printed, figures = tmp_path / "heron.pdf", tmp_path / "heron.json"
    assert record("k8", "--season", "2026", "--out", str(printed))[0] == 0
    assert record("k8", "--season", "2026", "--out", str(figures), "--json")[0] == 0
    assert printed.read_bytes().startswith(b"%PDF-1.7")
    assert json.loads(figures.read_bytes())["craft"]["id"] == "k8"


def test_a_mail_to_the_owner_is_put_in_once(record):
    first = record("k8", "--season", "2026", "--send")
    again = record("k8", "--season", "2026", "--send")
    assert first[0] == again[0] == 0
    assert "1 of 1 mails put into the outbox" in first[2]
    assert "0 of 1 mails put into the outbox; 1 were there already" in again[2]


def test_a_mail_by_hand_replaces_one_that_told_another_hand_over_as_the_job_s_does(
    yard, record, monkeypatch
):
    april = datetime(2027, 4, 20, 20, tzinfo=UTC)
    settings = load_settings(yard)
    store = Store(settings.store_url, settings.yard.id)
    gone = work(Act.HANDED_OVER, at=april, craft="k8")
    with store.transaction() as tx:
        tx.layup.append_entries([gone], april)

    def send_on(at):
        monkeypatch.setattr(record_command, "daemon_clock", lambda _: SetClock(at))
        return record("k8", "--season", "2026", "--send")[2]

    assert "1 of 1 mails put into the outbox" in send_on(april + timedelta(days=1))
    really = work(
        Act.HANDED_OVER, at=april + timedelta(days=2), craft="k8", id="later", replaces=gone.id
    )
    with store.transaction() as tx:
        tx.layup.append_entries([really], really.at)
    assert "1 of 1 mails put into the outbox" in send_on(april + timedelta(days=4))
    assert "0 of 1 mails put into the outbox" in send_on(april + timedelta(days=5))
    with store.snapshot() as tx:
        mails = [one for one, _ in tx.outbox.newest_messages()]
    store.close()
    assert len(mails) == 2
    assert (
        "21 April 2027" in max(mails, key=lambda one: one.created_at).text
    )  # when the mail left that it replaces


def test_what_is_due_is_mailed_once_and_one_that_fails_holds_up_no_other(yard, record, monkeypatch):
    april = datetime(2027, 4, 20, 20, tzinfo=UTC)
    settings = load_settings(yard)
    store = Store(settings.store_url, settings.yard.id)
    with store.transaction() as tx:
        for craft in ("k1", "k8"):
            tx.layup.append_entries([work(Act.HANDED_OVER, at=april, craft=craft)], april)
    monkeypatch.setattr(record_mails, "daemon_clock", lambda _: SetClock(april + timedelta(days=1)))
    assert laidup("key", "--config", str(yard)) == 0
    make = record_command.letter_to_owner  # imported before it is patched, for other tests

    def fail_once(figures, maker, replaces):
        if figures.craft.id == "k1":
            raise LaidupError("no page came out")
        return make(figures, maker, replaces)

    with monkeypatch.context() as patched:
        patched.setattr(record_mails, "letter_to_owner", fail_once)
        status, _, err = record("--due")
    assert (status, "1 of 1 mails put" in err) == (1, True)
    assert "no page came out" in err
    assert "1 of 1 mails put" in record("--due")[2], "the other, once"
    assert "No season record is due" in record("--due")[2]
    with store.snapshot() as tx:
        keys = [one.key for one, _ in tx.outbox.newest_messages()]
    assert sorted(key.split("/")[:3] for key in keys) == [
        ["season-record", "2026", "k1"], ["season-record", "2026", "k8"],
    ]  # fmt: skip
    store.close()


@pytest.fixture
def handed_over(yard, monkeypatch):
    """The yard's store on the day after two of its craft were handed over."""
    april = datetime(2027, 4, 20, 20, tzinfo=UTC)
    monkeypatch.setattr(record_mails, "daemon_clock", lambda _: SetClock(april + timedelta(days=1)))
    settings = load_settings(yard)
    store = Store(settings.store_url, settings.yard.id)
    with store.transaction() as tx:
        for craft in ("k1", "k8"):
            tx.layup.append_entries([work(Act.HANDED_OVER, at=april, craft=craft)], april)
    yield store
    store.close()


@pytest.mark.parametrize("asked", [("--due",), ("k1", "k8", "--season", "2026", "--send")])
def test_records_leave_the_last_room_of_a_full_disk_to_warnings(yard, record, handed_over, asked):
    assert laidup("key", "--config", str(yard)) == 0
    assert handed_over.reserve.make()
    while handed_over.reserve.give_up(can_wait=True):
        pass
    status, _, err = record(*asked)
    assert status == 1
    assert "kept for alarms" in err
    with handed_over.snapshot() as tx:
        assert not tx.outbox.newest_messages()
    assert handed_over.reserve.make(), "there is room again"
    assert "2 of 2 mails put into the outbox" in record(*asked)[2]


@pytest.mark.parametrize(
    ("content", "remedy"),
    [(None, "Put it back from where it is kept"), (b"garbage", "Put the file back")],
)
def test_the_job_seals_with_no_other_key_than_the_yards(yard, record, handed_over, content, remedy):
    key = yard.parent / KEY_FILE
    assert laidup("key", "--config", str(yard)) == 0
    (yard.parent / PDF_KEY_FILE).unlink()  # as where pyHanko is not installed
    kept = key.read_bytes()
    key.unlink()
    if content is not None:
        key.write_bytes(content)
        key.chmod(0o600)
    status, _, err = record("--due")
    assert status == 2
    assert (KEY_FILE in err, remedy in err) == (True, True)
    with handed_over.snapshot() as tx:
        assert not tx.outbox.newest_messages()
    key.write_bytes(kept)
    key.chmod(0o600)
    assert "2 of 2 mails put into the outbox" in record("--due")[2]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("k8", "--due"), "not beside --due"),
        ((), "CRAFT: none is named"),
        (("k8", "--all"), "not both"),
        (("k99",), "no craft 'k99' is on record"),
        (("k8", "--season", "spring"), "--season spring: no year"),
        (("k8", "--season", "2199"), "has not begun yet"),
        (("k8", "--season", "1999"), "did not stand in the yard then"),
        (("k8", "--season", "2026", "--out", "k8.doc"), "says no form of a record"),
    ],
)
def test_what_cannot_be_told_is_refused_with_the_remedy(record, arguments, says):
    status, _, err = record(*arguments)
    assert status in {1, 2}
    assert says in err
