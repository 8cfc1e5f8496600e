"""Links to set a password: asked for in another's name, sent anew, left lying in a store's copy."""

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
import requests
from fastapi.testclient import TestClient

from monitor.web.server import PageServer
from monitor.yard.message import DeliveryOutcome, Receipt
from tests.web.access.scene import ADDRESS, PASSWORD, SignInScene
from tests.web.access.test_sign_in import form_token, link_for, sign_in


@pytest.fixture
def scene(store):
    return SignInScene(store)


def asked_links(scene, name="ines"):
    """Every link that left for somebody who asked at the page, the latest first."""
    with scene.store.snapshot() as tx:
        letters = [m for m, _ in tx.outbox.newest_messages(200) if m.kind == "sign-in"]
    return [
        found[1]
        for one in letters
        if one.person == name and (found := re.search(rf"{ADDRESS}(/password/\S+)", one.text))
    ]


@pytest.mark.usefixtures("scenes_on_both")
def test_of_six_who_use_one_link_at_once_one_alone_sets_the_password(scene):
    server = PageServer(scene.app, asks_who=True)
    address = server.start().rstrip("/") + link_for(scene)

    def use(n):
        written = {"password": f"{PASSWORD} {n}"}
        return n, requests.post(address, written, allow_redirects=False, timeout=60).status_code

    with ThreadPoolExecutor(6) as six:
        answers = dict(six.map(use, range(6)))
    server.stop()
    assert sorted(answers.values()) == [303] + [404] * 5
    [won] = [n for n, status in answers.items() if status == 303]
    assert sign_in(scene.browser(), password=f"{PASSWORD} {won}").status_code == 303


def test_whoever_asks_in_somebody_s_name_spoils_none_of_their_links_and_fills_no_mailbox(scene):
    sent = link_for(scene)
    answers = [scene.browser().post("/sign-in/letter", data={"name": "ines"}) for _ in range(9)]
    assert [one.status_code for one in answers] == [200] * 3 + [429] * 6
    assert "within the last hour still works" in answers[-1].text
    asked = asked_links(scene)
    assert len(asked) == 3
    for each in (sent, *asked):
        assert scene.browser().get(each).status_code == 200


def test_a_new_password_ends_all_links_that_are_still_open(scene):
    sent = link_for(scene)
    scene.browser().post("/sign-in/letter", data={"name": "ines"})
    [asked] = asked_links(scene)
    assert scene.browser().post(asked, data={"password": PASSWORD}).status_code == 303
    assert scene.browser().get(sent).status_code == 404
    other = link_for(scene)
    browser = scene.browser()
    assert sign_in(browser).status_code == 303
    changed = {"form_token": form_token(browser), "old": PASSWORD, "password": PASSWORD + " more"}
    assert browser.post("/account/password", data=changed).status_code == 303
    assert scene.browser().get(other).status_code == 404


def test_a_link_stays_in_no_copy_of_the_store_once_its_mail_has_gone(scene):
    scene.browser().post("/sign-in/letter", data={"name": "ines"})
    with scene.store.transaction() as tx:
        [(letter, _)] = tx.outbox.newest_messages()
        assert "/password/" in letter.text  # so that its being gone tells something
        taken = Receipt(outcome=DeliveryOutcome.TAKEN, detail="250 OK")
        later = scene.clock.now() + timedelta(minutes=1)
        failed = Receipt(outcome=DeliveryOutcome.PUT_OFF, detail="greylisted")
        tx.outbox.settle_attempt(letter.key, scene.clock.now(), failed, later)
        [(waiting, _)] = tx.outbox.newest_messages()
        assert waiting.text == letter.text
        tx.outbox.settle_attempt(letter.key, later, taken, None)
        [(gone, _)] = tx.outbox.newest_messages()
    assert (gone.subject, gone.text, gone.html) == (letter.subject, "", "")


def test_who_set_a_password_somewhere_gets_in_from_there_while_others_guess(scene):
    home = scene.browser()
    home.post(link_for(scene), data={"password": PASSWORD})
    for n in range(30):
        elsewhere = TestClient(scene.app, base_url=ADDRESS, client=(f"192.0.2.{n}", 1))
        sign_in(elsewhere, password=f"guess number {n} is wrong")
    stranger = TestClient(scene.app, base_url=ADDRESS, client=("198.51.100.7", 1))
    assert sign_in(stranger).status_code == 429
    assert sign_in(scene.browser()).status_code == 303
