"""While another program holds the lock of the store: who looks is not held up by it."""

import sqlite3
from contextlib import closing
from threading import Thread

import pytest

from monitor.errors import StoreBusyError
from tests.web.access.scene import SignInScene
from tests.web.access.test_sign_in import signed_in

_HUNG_S = 15.0  # half of what a writer waits for the lock


@pytest.fixture
def scene(store):
    return SignInScene(store)


@pytest.mark.usefixtures("scenes_in_files")
def test_a_reader_does_not_wait_for_the_lock_to_have_it_kept_that_they_were_here(scene):
    browser = signed_in(scene)
    scene.after(hours=1)
    answers = []
    with closing(sqlite3.connect(scene.store.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        reader = Thread(target=lambda: answers.append(browser.get("/account")), daemon=True)
        reader.start()
        reader.join(_HUNG_S)
        assert [one.status_code for one in answers] == [200]
        other.execute("ROLLBACK")


def test_a_link_that_could_not_be_kept_is_told_of_in_the_log_without_a_word_of_it(
    scene, caplog, monkeypatch
):
    def refuse(*_, **__):
        raise StoreBusyError("it takes nothing: database is locked")

    # After the answer: the first transaction that the request makes.
    monkeypatch.setattr(type(scene.store), "transaction", refuse)
    assert scene.browser().post("/sign-in/letter", data={"name": "ines"}).status_code == 200
    [said] = [one.message for one in caplog.records if "link to set a password" in one.message]
    assert said.endswith("ines: it takes nothing: database is locked")
    assert "/password/" not in caplog.text
