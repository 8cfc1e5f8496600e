"""While another program holds the lock of the store: who looks is not held up by it."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from threading import Thread

import pytest

from monitor.errors import StoreBusyError
from tests.web.access.scene import PASSWORD, SignInScene
from tests.web.access.test_sign_in import form_token, link_for, sign_in, signed_in

_HUNG_S = 15.0  # half of what a writer waits for the lock


@pytest.fixture
def scene(store):
    return SignInScene(store)


@contextmanager
def locked(scene) -> Iterator[None]:
    """Another program holds the lock for as long as the block takes."""
    with closing(sqlite3.connect(scene.store.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


@pytest.mark.usefixtures("scenes_in_files")
def test_a_reader_does_not_wait_for_the_lock_to_have_it_kept_that_they_were_here(scene):
    browser = signed_in(scene)
    scene.after(hours=1)
    answers = []
    with locked(scene):
        reader = Thread(target=lambda: answers.append(browser.get("/account")), daemon=True)
        reader.start()
        reader.join(_HUNG_S)
        assert [one.status_code for one in answers] == [200]


def answer_within(ask, end_s=_HUNG_S):
    """What comes back of a request, which must not wait for the lock as long as a writer does."""
    answers = []
    asker = Thread(target=lambda: answers.append(ask()), daemon=True)
    asker.start()
    asker.join(end_s)
    assert answers, f"no answer within {end_s:.0f} s"
    return answers[0]


@pytest.mark.usefixtures("scenes_in_files")
def test_who_signs_in_meanwhile_is_soon_told_what_to_do_and_that_it_is_not_the_password(scene):
    signed_in(scene)
    with locked(scene):
        answer = answer_within(lambda: sign_in(scene.browser(), next="/account"))
        wrong = answer_within(lambda: sign_in(scene.browser(), password="no such password here"))
    assert answer.status_code == 503
    assert answer.headers["retry-after"] == "30"
    assert "not the cause" in answer.text
    assert "half a minute" in answer.text
    assert 'value="ines"' in answer.text  # neither the name nor where to go on is written anew
    assert 'value="/account"' in answer.text
    assert "set-cookie" not in answer.headers
    assert wrong.status_code == 401, "a wrong password is one whatever the store takes"
    assert sign_in(scene.browser()).status_code == 303


@pytest.mark.usefixtures("scenes_in_files")
def test_a_link_is_not_used_up_and_a_password_stays_as_it_was_meanwhile(scene):
    path, browser = link_for(scene, "tobin"), signed_in(scene)
    new = {"form_token": form_token(browser), "old": PASSWORD, "password": "a fifth cold word more"}
    with locked(scene):
        for ask in (
            lambda: scene.browser().post(path, data={"password": PASSWORD}),
            lambda: browser.post("/account/password", data=new),
            lambda: browser.post("/sign-out", data=new),
        ):
            answer = answer_within(ask)
            assert answer.status_code == 503
            assert "Nothing was changed" in answer.text
    assert "You are still signed in" in answer.text
    assert browser.get("/account").status_code == 200
    assert sign_in(scene.browser()).status_code == 303
    assert scene.browser().post(path, data={"password": PASSWORD}).status_code == 303


@pytest.mark.usefixtures("scenes_in_files")
def test_a_page_is_made_ready_while_the_lock_is_held(scene):
    with locked(scene):
        made = answer_within(lambda: SignInScene(scene.store, fill=False))
    assert made.browser().get("/sign-in").status_code == 200


def test_a_link_that_could_not_be_kept_is_told_of_in_the_log_without_a_word_of_it(
    scene, caplog, monkeypatch
):
    def refuse(*_, **__):
        raise StoreBusyError("it takes nothing: database is locked")

    # After the answer: the first transaction that the request makes.
    monkeypatch.setattr(type(scene.store), "transaction", refuse)
    assert scene.browser().post("/sign-in/letter", data={"name": "ines"}).status_code == 200
    [said] = [one.message for one in caplog.records if "link to set a password" in one.message]
    assert said.endswith("sent: it takes nothing: database is locked")
    assert "/password/" not in caplog.text
    assert "ines" not in caplog.text
