"""Signing in as people do it: in a browser, without scripts, on a phone."""

import re

import pytest
from axe_playwright_python.sync_playwright import Axe

from monitor.web.access.invitations import invite_person
from monitor.web.access.keys_and_links import make_owner_link
from monitor.web.server import PageServer
from tests.craft.scene import twelve
from tests.web.access.scene import OWNERS, PASSWORD, SignInScene, yard_with
from tests.web.test_page import RULES

PHONE = {"width": 390, "height": 844}


@pytest.fixture
def served(store):
    scene = SignInScene(store, yard_with(*OWNERS), records=twelve().values(), address=None)
    server = PageServer(scene.app, asks_who=True)
    yield scene, server.start().rstrip("/")
    server.stop()


@pytest.fixture
def phone(chromium):
    context = chromium.new_context(viewport=PHONE, java_script_enabled=False)
    yield context.new_page()
    context.close()


def link_for(scene, person="ines"):
    with scene.store.transaction() as tx:
        return f"/password/{invite_person(tx, person, scene.clock.now(), 'test')[0]}"


def test_from_a_scanned_label_to_the_craft_without_a_script(served, phone):
    scene, address = served
    phone.goto(f"{address}{link_for(scene)}")
    phone.get_by_label("New password").fill(PASSWORD)
    phone.get_by_role("button", name="Set it and sign in").click()
    assert phone.url == f"{address}/"
    phone.goto(f"{address}/account")
    phone.get_by_role("button", name="Sign out", exact=True).click()
    assert phone.url == f"{address}/sign-in"
    one = twelve()["k1"].craft
    phone.goto(f"{address}/craft/{one.id}")
    assert "/sign-in?next=" in phone.url
    assert one.name not in phone.content()
    phone.get_by_label(re.compile("Your name")).first.fill("ines")
    phone.get_by_label("Password").fill("not the password at all")
    phone.get_by_role("button", name="Sign in").click()
    assert "do not go together" in phone.get_by_role("alert").text_content()
    assert phone.get_by_label(re.compile("Your name")).first.input_value() == "ines"
    phone.get_by_label("Password").fill(PASSWORD)
    phone.get_by_role("button", name="Sign in").click()
    assert phone.url == f"{address}/craft/{one.id}"
    # No script of the page sees the session.
    [cookie] = [one for one in phone.context.cookies() if one["name"] == "laidup"]
    assert cookie["httpOnly"]
    assert cookie["sameSite"] == "Lax"


def test_an_open_page_asks_to_sign_in_once_idle_and_the_reader_is_back_where_they_were(
    served, chromium
):
    scene, address = served
    page = chromium.new_context(viewport={"width": 390, "height": 500}).new_page()
    page.goto(f"{address}{link_for(scene)}")
    page.get_by_label("New password").fill(PASSWORD)
    page.get_by_role("button", name="Set it and sign in").click()
    page.wait_for_load_state()
    line = page.locator("details[id]").last
    line.evaluate("e => { e.open = true; e.scrollIntoView(); }")
    top = "e => e.getBoundingClientRect().top"
    opened = "[...document.querySelectorAll('details[open][id]')].map(e => e.id)"
    was_open, was_at = page.evaluate(opened), line.evaluate(top)
    assert page.evaluate("scrollY") > 0
    with page.expect_response(lambda answer: answer.request.headers.get("laidup-renewal") == "1"):
        scene.after(days=6, hours=23)
    scene.after(hours=1)  # seven days since somebody did anything, though the page went on asking
    page.wait_for_url(f"{address}/sign-in")
    page.get_by_label(re.compile("Your name")).first.fill("ines")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{address}/")
    page.wait_for_function("scrollY > 0")
    assert page.evaluate(opened) == was_open
    assert abs(line.evaluate(top) - was_at) < 5
    page.context.close()


def test_a_form_of_another_site_is_refused_in_a_browser_too(served, chromium, httpserver):
    scene, address = served
    context = chromium.new_context()
    page = context.new_page()
    page.goto(f"{address}{link_for(scene)}")
    page.get_by_label("New password").fill(PASSWORD)
    page.get_by_role("button", name="Set it and sign in").click()
    token = page.goto(f"{address}/account") and page.locator("[name=form_token]").first
    value = token.input_value()
    httpserver.expect_request("/evil").respond_with_data(
        f'<form method="post" action="{address}/sign-out"><input name="form_token"'
        f' value="{value}"><button>go</button></form>',
        content_type="text/html",
    )
    page.goto(httpserver.url_for("/evil").replace("127.0.0.1", "localhost"))
    page.get_by_role("button", name="go").click()
    assert "not this yard's" in page.content() or "/sign-in" in page.url
    page.goto(f"{address}/account")
    assert page.url == f"{address}/account", "still signed in"
    context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_of_access_keeps_wcag_2_2_aa(served, chromium, scheme):
    scene, address = served
    context = chromium.new_context(viewport=PHONE, color_scheme=scheme, bypass_csp=True)
    page = context.new_page()
    with scene.store.transaction() as tx:
        token, _ = make_owner_link(tx, OWNERS[0].id, 30, scene.clock.now(), "test")
    link = link_for(scene)

    def check(what):
        found = Axe().run(page, options=RULES)
        assert found.violations_count == 0, f"{what}: {found.generate_report()}"
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= PHONE["width"], f"{what} is {wide} px wide"
        small = page.evaluate(
            "[...document.querySelectorAll('button, input:not([type=hidden])')]"
            ".filter(e => e.getBoundingClientRect().height < 44).map(e => e.outerHTML)"
        )
        assert small == [], what

    for path in ("/sign-in", link, "/password/" + "x" * 43):
        page.goto(f"{address}{path}")
        check(path)
    page.goto(f"{address}/sign-in")
    page.get_by_label(re.compile("Your name")).last.fill("ines")
    page.get_by_role("button", name="Send me a link").click()
    check("link sent")
    page.goto(f"{address}{link}")
    page.get_by_label("New password").fill(PASSWORD)
    page.get_by_role("button", name="Set it and sign in").click()
    for path in ("/account", "/people"):
        page.goto(f"{address}{path}")
        check(path)
    page.goto(f"{address}/owner/{token}")
    context.close()


def test_a_password_may_be_pasted_and_kept_by_a_manager(served, chromium):
    scene, address = served
    page = chromium.new_context().new_page()
    page.goto(f"{address}/sign-in")
    name, password = page.locator("#name"), page.locator("#password")
    assert name.get_attribute("autocomplete") == "username"
    assert password.get_attribute("autocomplete") == "current-password"
    password.evaluate(
        "e => { const d = new DataTransfer(); d.setData('text/plain', 'x');"
        " window.went = e.dispatchEvent(new ClipboardEvent('paste',"
        " {clipboardData: d, bubbles: true, cancelable: true})); }"
    )
    assert page.evaluate("window.went"), "nothing on the page stops a paste"
    page.goto(f"{address}{link_for(scene)}")
    assert page.locator("#password").get_attribute("autocomplete") == "new-password"
    page.context.close()
