"""An operator lets others in at the page, sees what was given out, and takes it back."""

import html

import pytest
from bs4 import BeautifulSoup

from monitor.web.access.sessions import begin_session
from tests.craft.scene import twelve
from tests.web.access.scene import ADDRESS, OWNERS, SignInScene, yard_with

CRAFT = [one.craft for one in twelve().values()]


@pytest.fixture
def scene(store):
    return SignInScene(store, yard_with(*OWNERS), records=twelve().values())


@pytest.fixture
def operator(scene):
    browser = scene.browser()
    with scene.store.transaction() as tx:
        session = begin_session(tx, "ines", scene.clock.now(), "test")
    browser.cookies.set("__Host-laidup", session)
    return browser


def post(browser, path, **fields):
    page = BeautifulSoup(browser.get("/people").text, "html.parser")
    token = page.find("input", {"name": "form_token"})["value"]
    return browser.post(path, data={"form_token": token, **fields})


def shown(answer):
    return BeautifulSoup(answer.text, "html.parser").find(class_="once").get_text(strip=True)


def grants(scene):
    with scene.store.snapshot() as tx:
        return [one for one in tx.page_grants.all_grants() if one.is_good_at(scene.clock.now())]


def test_a_key_is_shown_once_opens_and_is_withdrawn(scene, operator):
    key = shown(post(operator, "/people/keys", name="collector", role="reader"))
    bearer = {"Authorization": f"Bearer {key}"}
    assert scene.browser().get("/api/assess", headers=bearer).status_code == 200
    assert scene.browser().get("/people", headers=bearer).status_code == 403
    listed = operator.get("/people").text
    assert "collector, reader" in listed
    assert key not in listed
    assert post(operator, "/people/withdraw", id=grants(scene)[0].id).status_code == 200
    assert scene.browser().get("/api/assess", headers=bearer).status_code == 401


def test_links_for_an_owner_and_for_somebody_else(scene, operator):
    owned = next(one for one in CRAFT if one.owner == OWNERS[0].id)
    for fields in (
        {"owner": owned.owner, "days": "30"},
        {"craft": owned.id, "name": "the insurer", "days": "7"},
    ):
        link = shown(post(operator, "/people/links", **fields))
        assert link.startswith(f"{ADDRESS}/owner/")
        opened = scene.browser().get(link.removeprefix(ADDRESS))
        assert opened.status_code == 200
        assert html.escape(owned.name) in opened.text


@pytest.mark.parametrize(
    ("path", "fields"),
    [
        ("/people/keys", {"name": "", "role": "reader"}),
        ("/people/keys", {"name": "x", "role": "owner"}),
        ("/people/links", {"owner": "ines", "days": "30"}),
        ("/people/links", {"owner": "nobody", "days": "30"}),
        ("/people/links", {"owner": "tobin", "days": "0"}),
        ("/people/links", {"owner": "tobin", "days": "٣"}),
        ("/people/links", {"owner": "tobin", "days": "99999"}),
        ("/people/links", {"craft": "no-such-craft", "name": "x", "days": "3"}),
        ("/people/withdraw", {"id": "key-nothere1"}),
        ("/people/invite", {"person": "nobody"}),
    ],
)
def test_what_cannot_be_given_is_refused_in_words_and_nothing_is_made(
    scene, operator, path, fields
):
    answer = post(operator, path, **fields)
    assert answer.status_code == 422
    assert BeautifulSoup(answer.text, "html.parser").find(role="alert").get_text()
    assert grants(scene) == []


def test_without_its_token_nothing_is_given(scene, operator):
    for path in ("/people/keys", "/people/links", "/people/withdraw", "/people/invite"):
        assert operator.post(path, data={"name": "x", "role": "operator"}).status_code == 403
    assert grants(scene) == []


def test_an_invitation_leaves_by_mail(scene, operator):
    assert post(operator, "/people/invite", person="tobin").status_code == 200
    with scene.store.snapshot() as tx:
        letter = tx.outbox.newest_messages(1)[0][0]
    assert letter.person == "tobin"
    assert f"{ADDRESS}/password/" in letter.text
