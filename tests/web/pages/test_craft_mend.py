"""What is known of a craft put right at its page under the yard: kept, refused, taken back."""

import json
from datetime import timedelta

import pytest

from monitor.cli import main
from monitor.craft.links import LinkKind
from monitor.craft.revising import CRAFT_FILES
from monitor.settings.load import load_settings
from monitor.store.taking_in_each import take_in_each
from tests.real.chromium import chromium
from tests.web.pages.looks import check_axe, check_fits
from tests.web.pages.test_yard import browser, empty_store, text
from tests.web.pages.test_yard_browser import Operator, served

__all__ = ["browser", "chromium", "empty_store", "served"]
PAGE = "/yard/craft/teal"


@pytest.fixture
def teal(browser):
    """An outboard of Lee Calloway's, beside a Wren of nobody's."""
    said = "Teal, outboard, Lee Calloway, shed/1\nWren, outboard, , shed/2"
    browser.send("/yard/craft/list", list=said, take="yes")
    browser.clock.run_on(timedelta(minutes=5))
    return browser


def mend(browser, **said):
    """Send the form of the page as it is now, with some fields filled in otherwise."""
    form = browser.page(PAGE).select_one("form.entry")
    kept = {one["name"]: one.get("value", "") for one in form.select("input")}
    kept |= {one["name"]: one.select_one("option[selected]")["value"]
             for one in form.select("select")}  # fmt: skip
    kept |= {one["name"]: one.text for one in form.select("textarea")}
    kept.pop("form_token")
    return browser.send("/yard/craft/mend", **{**kept, **said})


def known(browser, craft="teal"):
    with browser.store.snapshot() as tx:
        return tx.layup.craft_by_id(craft)


def test_what_is_put_right_stands_in_the_craft_s_record_with_person_and_time(teal):
    page = mend(teal, name="Teal II", hull_number="us-abc12345d404", note="Blue cover")
    assert teal.answer.status_code == 200, text(page)
    assert teal.answer.url.path == PAGE
    now = known(teal)
    assert (now.name, now.hull_number, now.note, now.owner) == (
        "Teal II", "US-ABC12345D404", "Blue cover", "owner-001")  # fmt: skip
    assert [one.name for one in teal.care.read_now() if one.id == "teal"] == ["Teal II"]
    assert "Sam Ostrander name: Teal → Teal II" in text(page)
    with teal.store.snapshot() as tx:
        body = json.loads(
            [one for one in tx.layup.links_of("teal") if one.kind is LinkKind.CRAFT][-1].body
        )
    assert (body["by"], body["craft"]["name"]) == ("sam", "Teal II")
    assert body["written_at"].startswith("2026-11-12T15:05")


# Names that a form may bring: U+202E turns the direction of what follows (UAX 9, 2.2).
@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("Teal \u202egnihton", "turn the direction"),
        ("\u2067Teal", "turn the direction"),
        ("   ", "it is empty"),
        ("T" * 300, "it has 300 letters; write 80 at most"),
        ("\uff37REN ", "Wren is another craft's"),  # the same letters, one of them in full width
    ],
)
def test_a_name_that_no_craft_can_have_is_refused_in_words_and_stays_in_the_form(teal, name, told):
    page = mend(teal, name=name, note="also this")
    assert teal.answer.status_code == 422
    assert told in text(page.select_one("[role=alert]"))
    assert page.find(id="c-note").text == "also this"
    assert (known(teal).name, known(teal).note) == ("Teal", "")


def test_a_name_from_right_to_left_is_a_name(teal):
    mend(teal, name="\u05e9\u05d7\u05e3")  # Hebrew letters, without any mark
    assert known(teal).name == "\u05e9\u05d7\u05e3"


def test_a_hull_number_of_another_craft_and_an_owner_of_no_yard_are_refused(teal):
    mend(teal, hull_number="US-ABC12345D404")
    token = teal.page("/yard/craft/wren").select_one("input[name=version]")["value"]
    page = teal.send("/yard/craft/mend", craft="wren", version=token,
                     hull_number="us-abc12345d404")  # fmt: skip
    assert "which is Teal's" in text(page)
    page = mend(teal, owner="nobody")
    assert "nobody of this yard" in text(page)
    assert known(teal).owner == "owner-001"
    assert teal.web.get("/yard/craft/none").status_code == 404


def test_a_new_owner_becomes_a_person_of_the_yard_or_neither_happens(teal):
    page = mend(teal, owner="(new)", owner_name="Ada Moss", owner_mail="lee@owners.example")
    assert teal.answer.status_code == 422
    lee = teal.yard.person("owner-001").mail
    page = mend(teal, owner="(new)", owner_name="Ada Moss", owner_mail=lee.upper())
    assert "choose Lee Calloway" in text(page)
    page = mend(teal, owner="(new)", owner_name="Ada Moss", owner_mail="no address")
    assert "no mail address" in text(page)
    # The craft cannot be called so, and then nobody is added either.
    mend(teal, owner="(new)", owner_name="Ada Moss", owner_mail="ada@owners.example", name="Wren")
    assert (known(teal).owner, teal.book.read_changes()) == ("owner-001", [])
    mend(teal, owner="(new)", owner_name="Ada Moss", owner_mail="ada@owners.example")
    assert known(teal).owner == "ada-moss"
    assert teal.yard.person("ada-moss").mail == "ada@owners.example"
    assert "owner: Lee Calloway → Ada Moss" in text(teal.page(PAGE))


def test_the_last_change_is_taken_back_and_a_form_of_before_it_is_refused(teal):
    old = teal.page(PAGE).select_one("input[name=version]")["value"]
    mend(teal, name="Tern", owner="")
    page = teal.send("/yard/craft/mend", craft="teal", version=old, name="Gull")
    assert "Somebody changed this craft meanwhile" in text(page)
    assert (known(teal).name, known(teal).owner) == ("Tern", "")
    teal.clock.run_on(timedelta(minutes=5))
    form = teal.page(PAGE).select_one(".rows form")
    said = {one["name"]: one["value"] for one in form.select("input, button")}
    teal.send("/yard/craft/mend", **said)
    assert (known(teal).name, known(teal).owner) == ("Teal", "owner-001")
    changes = teal.page(PAGE).select(".rows > li")
    assert len(changes) == 2
    assert "name: Tern → Teal" in text(changes[0])


def test_a_type_changes_before_any_work_and_never_after(teal):
    mend(teal, profile="sterndrive-raw-water")
    assert known(teal).profile == "sterndrive-raw-water"
    teal.send("/yard/craft/turn", craft="teal", turn="out")
    page = teal.page(PAGE)
    assert page.find("select", {"name": "profile"}) is None
    assert "work (1 entry) on the circuits of this type" in text(page)
    version = page.select_one("input[name=version]")["value"]
    page = teal.send("/yard/craft/mend", craft="teal", version=version, profile="outboard")
    assert "The type stays" in text(page)
    assert teal.answer.status_code == 422
    assert known(teal).profile == "sterndrive-raw-water"
    # Nor where a sensor hangs on one of its circuits.
    teal.send("/yard/items", part="sensors", key="urn:dev:ops:mill-lane-maintainer-1",
              space="shed", mount="battery", craft="wren")  # fmt: skip
    assert "hangs on it" in text(teal.page("/yard/craft/wren"))


def test_a_craft_file_of_before_stays_good_and_one_that_says_a_third_thing_is_refused(teal):
    # Its charger, which the file has on another craft: no craft file need know of this one.
    teal.send("/yard/items", part="sensors", key="urn:dev:ops:mill-lane-maintainer-1",
              space="shed", mount="battery", craft="wren")  # fmt: skip
    file = teal.file.with_name("craft.toml")
    assert main(["export", "craft", "--out", str(file), "--config", str(teal.file)]) == 0
    before = file.read_text()
    mend(teal, name="Tern")

    def taken_in():
        settings = load_settings(teal.file)
        teal.clock.run_on(timedelta(minutes=5))
        return take_in_each(
            teal.store, settings.craft, settings.profiles, teal.clock.now(), CRAFT_FILES
        )

    assert taken_in().refused == ()  # only older
    file.write_text(before.replace('name = "Teal"', 'name = "Gull"'))
    (refused,) = taken_in().refused
    assert "the file has Gull, and by sam it is Tern" in str(refused)
    assert "laidup export craft" in str(refused)
    assert main(["export", "craft", "--out", str(file), "--config", str(teal.file)]) == 0
    assert 'name = "Tern"' in file.read_text()
    assert taken_in().refused == ()
    assert known(teal).name == "Tern"


def test_a_craft_is_put_right_and_taken_back_on_a_phone(served, chromium):
    served.send("/yard/craft/list", list="Teal, outboard, Lee Calloway, shed/1", take="yes")
    address = served.start()
    one = Operator(chromium, address)
    one.open("Craft")
    one.tap(one.page.get_by_role("link", name="Put right"))
    one.fill("Name as pages", "Tern")
    one.page.get_by_label("Owner", exact=True).select_option(label="somebody new, written below")
    one.fill("Name of the new owner", "Ada Moss")
    one.fill("Mail address of the new owner", "ada@owners.example")
    served.clock.run_on(timedelta(minutes=5))
    one.press("Keep")
    one.page.wait_for_selector("text=name: Teal → Tern")
    assert (known(served).name, known(served).owner) == ("Tern", "ada-moss")
    served.clock.run_on(timedelta(minutes=5))
    one.press("Take it back")
    one.page.wait_for_selector("text=name: Tern → Teal")
    assert (known(served).name, known(served).owner) == ("Teal", "owner-001")
    one.page.close()
    check_fits(chromium, f"{address}yard/craft/teal")
    check_axe(chromium, f"{address}yard/craft/teal")
