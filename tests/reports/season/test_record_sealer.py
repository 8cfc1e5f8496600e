"""Photos in a sealed season record: within its size, checked by hash, never silently gone."""

from base64 import b64decode, b64encode
from contextlib import closing
from dataclasses import replace
from hashlib import sha256

import pytest

from monitor.craft.canonical import canonical_bytes
from monitor.craft.layup import Act, Evidence
from monitor.craft.record_check import MisfitKind, check_record
from monitor.craft.sealing import YardKey, seal_record
from monitor.craft.signing_key import SigningKey
from monitor.reports.season import record_sealer
from monitor.reports.season.record_sealer import RecordSealer, photos_in_record
from monitor.reports.season.season_json import season_json
from tests.craft.scene import work
from tests.reports.season import winter
from tests.reports.season.winter import ARRIVED, NOW, YEAR, figures_of, put_craft

FIRST, SECOND = b"\xff\xd8 drain plug \xff\xd9", b"\xff\xd8 water box \xff\xd9"
NAMES = [sha256(one).hexdigest() for one in (FIRST, SECOND)]


@pytest.fixture
def store(tmp_path):
    """Work of which a photo stands in each version, the second one not kept yet."""
    drained = work(Act.DRAINED, at=ARRIVED, by="ines", photo_sha256=(NAMES[0],))
    better = replace(
        drained, id="better", replaces=drained.id, evidence=Evidence(photo_sha256=tuple(NAMES))
    )
    with closing(winter.open_store(tmp_path)) as made:
        with made.transaction() as tx:
            tx.photos.keep_photo(NAMES[0], FIRST, "k1", "ines", ARRIVED)
        put_craft(made, drained, better)
        yield made


def keep_second(store, content=SECOND):
    with store.transaction() as tx:
        tx.photos.keep_photo(NAMES[1], content, "k1", "ines", ARRIVED)


def photos_of(store):
    figures = figures_of(store)
    with store.snapshot() as tx:
        return photos_in_record(tx, figures)


def test_each_photo_that_work_names_is_in_it_once(store):
    keep_second(store)
    photos = photos_of(store)
    assert [one["sha256"] for one in photos] == NAMES
    assert [b64decode(one["content"]) for one in photos] == [FIRST, SECOND]


def test_a_photo_that_is_gone_or_changed_is_named_without_a_picture(store):
    assert [one.get("left_out") for one in photos_of(store)] == [None, "missing"]
    keep_second(store, b"another picture")
    [_, changed] = photos_of(store)
    assert changed["left_out"] == "changed"
    assert "content" not in changed


def test_photos_beyond_the_size_of_a_record_are_named_alone(store, monkeypatch):
    keep_second(store)
    monkeypatch.setattr(record_sealer, "MAX_PHOTOS_BYTES", len(FIRST))
    assert [one.get("left_out") for one in photos_of(store)] == [None, "size"]


def test_a_picture_exchanged_in_the_file_is_named_even_if_it_was_sealed_anew(store):
    keep_second(store)
    figures, key = figures_of(store), SigningKey.make_new()
    with store.snapshot() as tx:
        sealer = RecordSealer(tx, winter.yard(), YardKey(key=key), YEAR, NOW)
        sealed = sealer.seal_figures(figures, season_json(figures, winter.yard()))
    assert not [
        one for one in check_record(canonical_bytes(sealed)).misfits if one.kind == MisfitKind.PHOTO
    ]
    photos = [dict(one) for one in sealed["photos"]]
    photos[1]["content"] = b64encode(b"another picture").decode("ascii")
    bare = {name: one for name, one in sealed.items() if name not in {"digests", "seal"}}
    again = seal_record(bare | {"photos": photos}, key)
    found = check_record(canonical_bytes(again)).misfits
    assert [one.place for one in found if one.kind == MisfitKind.PHOTO] == ["photos[1]"]
