"""What one link may tell the yard in a short time, and what becomes of what goes beyond."""

from dataclasses import replace
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup

from monitor.craft.layup import Act
from monitor.errors import StoreBusyError
from monitor.web.access.keys_and_links import make_owner_link
from tests.craft.scene import library, twelve
from tests.web.access.scene import OWNERS, SignInScene, yard_with
from tests.web.access.test_sign_in import signed_in

OWNER = OWNERS[0].id
CRAFT = next(one.craft.id for one in twelve().values() if one.craft.owner == OWNER)
TOLD_AT_ONCE = 12  # an owner of several craft who tells of each what there is to tell


@pytest.fixture
def scene(store):
    german = replace(OWNERS[0], language="de")
    return SignInScene(store, yard_with(german, *OWNERS[1:]), records=twelve().values())


def link(scene):
    with scene.store.transaction() as tx:
        secret, _ = make_owner_link(tx, OWNER, 30, scene.clock.now(), "test")
    return f"/owner/{secret}"


def page_of(answer):
    return BeautifulSoup(answer.text, "html.parser")


def tell_run(scene, browser, path, hours_ago):
    token = page_of(browser.get(path)).find("input", {"name": "form_token"})["value"]
    local = scene.clock.now().astimezone(scene.yard.zone) - timedelta(hours=hours_ago)
    at = local.strftime("%Y-%m-%dT%H:%M")
    form = {"craft": CRAFT, "at": at, "form_token": token}
    return at, browser.post(f"{path}/ran", data=form)


def runs(scene):
    with scene.store.snapshot() as tx:
        record = tx.layup.record_of(CRAFT, library())
    return [one for one in record.entries if one.act is Act.RUN_ON_WATER and one.by == OWNER]


def test_a_link_tells_so_much_at_once_and_what_goes_beyond_stays_in_the_form(scene):
    path, browser = link(scene), scene.browser()
    for hours in range(1, TOLD_AT_ONCE + 1):
        assert tell_run(scene, browser, path, hours)[1].status_code == 303
    at, answer = tell_run(scene, browser, path, TOLD_AT_ONCE + 1)
    assert answer.status_code == 429
    assert 1 <= int(answer.headers["retry-after"]) <= 60
    page = page_of(answer)
    assert "noch nicht eingetragen" in page.find(class_="warning").get_text()  # in their language
    assert page.find("input", {"name": "at"})["value"] == at
    assert len(runs(scene)) == TOLD_AT_ONCE, "what was told before is on record"
    # Sent again from the page that refused it, as a browser does.
    action = page.find("form", action=lambda said: said.endswith("/ran"))["action"]
    assert action == f"..{path.removeprefix('/owner')}/ran"


def test_a_link_that_went_astray_holds_up_neither_another_nor_whoever_signs_in(scene):
    path, other, browser = link(scene), link(scene), signed_in(scene, OWNER)
    for _ in range(TOLD_AT_ONCE + 1):
        _, last = tell_run(scene, scene.browser(), path, 1)
    assert last.status_code == 429
    assert tell_run(scene, scene.browser(), other, 2)[1].status_code == 303
    assert tell_run(scene, browser, "/own-craft", 3)[1].status_code == 303


def test_what_the_store_does_not_take_stays_in_the_form(scene, monkeypatch):
    path, browser = link(scene), scene.browser()
    tell_run(scene, browser, path, 1)

    def refuse(*_, **__):
        raise StoreBusyError("it takes nothing: database is locked")

    with monkeypatch.context() as patched:
        patched.setattr(type(scene.store), "transaction", refuse)
        at, answer = tell_run(scene, browser, path, 2)
    assert answer.status_code == 503
    assert answer.headers["retry-after"] == "30"
    assert page_of(answer).find("input", {"name": "at"})["value"] == at
    assert len(runs(scene)) == 1
    assert tell_run(scene, browser, path, 2)[1].status_code == 303


def test_whatever_was_told_is_shown_again_as_text(scene):
    browser, path = scene.browser(), link(scene)
    token = page_of(browser.get(path)).find("input", {"name": "form_token"})["value"]
    nasty = '"><script>alert(1)</script>'
    form = {"craft": CRAFT, "on": nasty, "form_token": token}
    answer = browser.post(f"{path}/collect", data=form)
    assert answer.status_code == 422
    assert page_of(answer).find("input", {"name": "on"})["value"] == nasty
    assert page_of(answer).find("script", string="alert(1)") is None
