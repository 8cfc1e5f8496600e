"""A store of an earlier revision, and a disk without room: who may come in, and what they read."""

from contextlib import closing

import pytest
from sqlalchemy import text

from monitor.clock import to_ms
from monitor.errors import StoreFullError
from monitor.store.engine import writing_engine
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.web.access.passwords import Passwords
from monitor.web.access.sessions import begin_session, digest_of_secret
from tests.reports import kettlemoss
from tests.store.test_faults import let_it_grow_no_more
from tests.web.access.scene import KEY, PASSWORD, SECRET, SignInScene
from tests.web.access.test_sign_in import COOKIE, link_for, sign_in, signed_in

SESSION = "S" * 43
BEFORE_SIGN_INS, WITH_SIGN_INS = "0029", "0030"


def old_rows(url):
    """What a yard had given out under revision 0030: a password, a session and a key."""
    now = to_ms(kettlemoss.KETTLEMOSS_NOW)
    engine = writing_engine(url)
    with engine.begin() as tables:
        tables.execute(text("INSERT INTO yards (yard_id, key) VALUES (1, 'kettlemoss')"))
        tables.execute(
            text("INSERT INTO page_passwords VALUES (1, 'ines', :hash, :now)"),
            {"hash": Passwords().hash_password(PASSWORD), "now": now},
        )
        tables.execute(
            text("INSERT INTO page_sessions VALUES (1, :digest, 'ines', :now, :now, 'here')"),
            {"digest": digest_of_secret(SESSION), "now": now},
        )
        tables.execute(
            text(
                "INSERT INTO page_grants (yard_id, grant_id, digest, kind, role, name, person,"
                " craft_id, made_by, made_ms)"
                " VALUES (1, 'key-aaaaaaaa', :digest, 'key', 'reader', 'old', '', '', 'root', :now)"
            ),
            {"digest": digest_of_secret(SECRET), "now": now},
        )
    engine.dispose()


def upgraded(url, revision):
    """The page over a store of an earlier revision, once it was brought up to date."""
    migrate(url, revision)
    if revision == WITH_SIGN_INS:
        old_rows(url)
    migrate(url)
    return Store(url, "kettlemoss")


def test_a_store_from_before_people_signed_in_lets_in_who_is_invited_and_nobody_else(stores):
    with closing(upgraded(stores.empty_url(), BEFORE_SIGN_INS)) as store:
        scene = SignInScene(store)
        assert sign_in(scene.browser()).status_code == 401
        browser = signed_in(scene)
        assert browser.get("/account").status_code == 200
        assert sign_in(scene.browser()).status_code == 303


def test_passwords_sessions_and_keys_of_an_earlier_revision_go_on(stores):
    with closing(upgraded(stores.empty_url(), WITH_SIGN_INS)) as store:
        scene = SignInScene(store)
        browser = scene.browser()
        browser.cookies.set(COOKIE, SESSION)
        assert browser.get("/account").status_code == 200
        assert sign_in(scene.browser()).status_code == 303
        shown = {"Authorization": f"Bearer {KEY}"}
        assert scene.browser().get("/api/assess", headers=shown).status_code == 200


def use_up_disk(scene):
    """No store of this process grows any more, and what room its pages had is used up."""
    for one in scene.store._family:
        let_it_grow_no_more(one)
    for address in ("x" * 200, ""):  # a row without an address fits where no other does
        with pytest.raises(StoreFullError):
            sign_in_without_end(scene, address)


def sign_in_without_end(scene, address):
    while True:
        with scene.store.transaction() as tx:
            begin_session(tx, "wren", scene.clock.now(), address)


@pytest.mark.usefixtures("scenes_in_files")
def test_on_a_full_disk_who_is_in_stays_in_and_who_comes_is_told_what_to_do(store):
    scene = SignInScene(store)
    inside, link = signed_in(scene), link_for(scene, "wren")
    use_up_disk(scene)
    assert inside.get("/account").status_code == 200
    assert inside.get("/").status_code == 200
    came = sign_in(scene.browser())
    assert came.status_code == 503
    assert "machine is full" in came.text
    assert "make room" in came.text
    assert "set-cookie" not in came.headers
    assert sign_in(scene.browser(), password="no such password here").status_code == 401
    assert scene.browser().get(link).status_code == 200
    asked = scene.browser().post("/sign-in/letter", data={"name": "ines"})
    assert asked.status_code == 200
    assert scene.browser().get("/account").status_code == 303
