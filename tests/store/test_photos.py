"""Photos of work on both databases: with their entry or not at all, in copies, and checked."""

from dataclasses import replace
from datetime import timedelta
from hashlib import sha256

import pytest
from sqlalchemy import delete, update

from monitor.craft.account import protections
from monitor.craft.layup import Act, Evidence, LayupEntry
from monitor.craft.protection import LayupState
from monitor.errors import RecordError
from monitor.settings.load import load_settings, shipped_folder
from monitor.store.copies import check_copy
from monitor.store.copying import copy_in, copy_out, url_of_copy
from monitor.store.entering import enter
from monitor.store.photos import KEPT_UNNAMED_FOR
from monitor.store.store import Store
from monitor.store.tables import photos
from monitor.store.taking_in import take_in
from monitor.store.verifying import verify_photos

CONTENT = b"\xff\xd8\xff a photo as it is kept \xff\xd9"
NAME = sha256(CONTENT).hexdigest()


class Yardful:
    def __init__(self, url):
        self.settings = load_settings(shipped_folder() / "demo" / "yard.toml")
        self.yard, self.profiles = self.settings.yard, self.settings.profiles
        self.now = max(e.at for one in self.settings.craft for e in one.entries) + timedelta(days=1)
        self.store = Store(url, self.yard.id)
        with self.store.transaction() as tx:
            take_in(tx.layup, self.settings.craft, self.profiles, self.now)

    def entry(self, entry_id="e1", **said):
        values = {"act": Act.INSPECTED, "evidence": Evidence(photo_sha256=(NAME,)), **said}
        return LayupEntry(id=entry_id, craft="k2", at=self.now, by="ines", **values)

    def enter(self, entry, *, with_photo=True, then=None):
        with self.store.transaction() as tx:
            if with_photo:
                tx.photos.keep_photo(NAME, CONTENT, "k2", "ines", self.now)
            enter(tx.layup, [entry], self.profiles, self.now, "test")
            if then:
                raise then

    def photo(self, name=NAME):
        with self.store.snapshot() as tx:
            return tx.photos.content_of(name)

    def record(self):
        with self.store.snapshot() as tx:
            return tx.layup.record_of("k2", self.profiles)


@pytest.fixture
def yardful(store_url):
    made = Yardful(store_url)
    yield made
    made.store.close()


def test_photo_and_entry_are_kept_together_or_neither_is(yardful):
    with pytest.raises(KeyError):
        yardful.enter(yardful.entry(), then=KeyError("killed before its commit"))
    assert yardful.photo() is None
    assert "e1" not in {one.id for one in yardful.record().on_record}
    yardful.enter(yardful.entry())
    assert yardful.photo() == CONTENT
    assert "e1" in {one.id for one in yardful.record().on_record}


def test_an_entry_that_names_a_photo_which_nobody_sent_is_refused_and_says_which(yardful):
    with pytest.raises(RecordError, match=NAME[:12]):
        yardful.enter(yardful.entry(), with_photo=False)
    assert "e1" not in {one.id for one in yardful.record().on_record}


def test_a_photo_alone_proves_nothing(yardful):
    def held():
        one = yardful.record()
        return protections(one.profile, one.entries, one.stays, {}, yardful.now, one.iced)

    before = held()
    circuit = next(name for name, one in before.items() if one.state is not LayupState.PROVEN)
    yardful.enter(yardful.entry(circuits=(circuit,), act=Act.DRAINED))
    without = Yardful.entry(yardful, "e2", circuits=(circuit,), act=Act.DRAINED)
    told = replace(without, evidence=Evidence())
    record = yardful.record()
    bare = replace(record, entries=(*(one for one in record.on_record if one.id != "e1"), told))
    after = held()[circuit]
    assert after.state is not LayupState.PROVEN
    assert after.state is protections(
        bare.profile, bare.entries, bare.stays, {}, yardful.now, bare.iced
    )[circuit].state  # fmt: skip


def test_one_that_no_entry_named_goes_after_two_weeks_and_one_on_record_never(yardful):
    yardful.enter(yardful.entry())
    with yardful.store.transaction() as tx:
        tx.photos.keep_photo("a" * 64, b"never entered", "k2", "ines", yardful.now)
        assert tx.photos.sent_to("a" * 64, "k2")
        assert not tx.photos.sent_to("a" * 64, "k3")
        assert not tx.photos.sent_to(NAME, "k2")  # it is on record, where others may see it
    later = yardful.now + KEPT_UNNAMED_FOR + timedelta(minutes=1)
    with yardful.store.transaction() as tx:
        tx.photos.keep_photo("b" * 64, b"another", "k2", "ines", later)
    assert yardful.photo("a" * 64) is None
    assert yardful.photo() == CONTENT


def test_a_photo_that_was_changed_or_taken_away_is_told(yardful):
    yardful.enter(yardful.entry())
    with yardful.store.snapshot() as tx:
        assert verify_photos(tx) == []
    with yardful.store.transaction() as tx:
        tx._connection.execute(update(photos).values(content=CONTENT * 2))
    with yardful.store.snapshot() as tx:
        (found,) = verify_photos(tx)
    assert found.craft == "k2"
    assert "e1" in found.words
    assert "not what was kept" in found.words
    with yardful.store.transaction() as tx:
        tx._connection.execute(delete(photos))
    with yardful.store.snapshot() as tx:
        (found,) = verify_photos(tx)
    assert "not in the store" in found.words


def test_a_copy_has_the_photos_and_they_come_back_from_it(yardful, store_url, stores, tmp_path):
    yardful.enter(yardful.entry())
    file = tmp_path / "copy.db"
    copy_out(store_url, file)
    check_copy(file, yardful.yard.id)
    other = stores.empty_url()
    copy_in(file, other)
    for url in (url_of_copy(file), other):
        back = Store(url, yardful.yard.id, only_looking=True)
        with back.snapshot() as tx:
            assert tx.photos.content_of(NAME) == CONTENT
            assert verify_photos(tx) == []
        back.close()
