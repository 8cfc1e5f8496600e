"""What ends is over for good: whoever leaves the yard's file, and whatever has run out."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.alarms.acts.answers import Answers
from monitor.store.page_deeds import DeedKind
from monitor.web.access.end_access import (
    ENDED_GRANTS_FOR,
    end_access_of_leavers,
    end_expired_access,
    prune_access,
)
from monitor.web.access.keys_and_links import make_craft_link, make_key, make_owner_link
from monitor.web.access.roles import AccessRole
from monitor.yard.space import Role
from monitor.yard.watch import Conversation, NotifiedDanger
from tests.craft.scene import twelve
from tests.reports.kettlemoss import KETTLEMOSS_NOW as NOW
from tests.web.access.scene import ADDRESS, OWNERS, SignInScene, yard_with
from tests.web.access.test_sign_in import COOKIE, deeds, link_for, sign_in, signed_in

OWNER = OWNERS[0].id


@pytest.fixture
def scene(store):
    return SignInScene(store, yard_with(*OWNERS), records=twelve().values())


def yard_without(scene, person):
    return replace(scene.yard, people=tuple(one for one in scene.yard.people if one.id != person))


def leaves(scene, person):
    """The daemon starts with a file in which somebody stands no more; how many lost something."""
    with scene.store.transaction() as tx:
        return end_access_of_leavers(tx, yard_without(scene, person), scene.clock.now())


def opens(scene, path):
    return scene.browser().get(path).status_code == 200


def shows_key(scene, key):
    shown = {"Authorization": f"Bearer {key}"}
    return scene.browser().get("/api/assess", headers=shown).status_code == 200


def grants(scene):
    with scene.store.snapshot() as tx:
        return {one.id: one for one in tx.page_grants.all_grants()}


@pytest.mark.usefixtures("scenes_on_both")
def test_whoever_leaves_the_file_and_comes_back_needs_a_new_invitation(scene):
    browser, waiting = signed_in(scene, "ines"), link_for(scene, "ines")
    with scene.store.transaction() as tx:
        now = scene.clock.now()
        theirs, _ = make_key(tx, "collector", AccessRole.OPERATOR, now, "ines")
        others, _ = make_key(tx, "other", AccessRole.READER, now, "root at the machine")
        answer, link = Answers(scene.store, scene.clock, ADDRESS).offer("ines", "t", (), now)
        Answers.keep(tx, [link], now)
    stays = signed_in(scene, "wren")
    assert leaves(scene, "ines") == 1
    # Back in the file, at the next start.
    assert browser.get("/account").status_code == 303
    assert sign_in(scene.browser(), "ines").status_code == 401
    assert not opens(scene, waiting)
    assert not shows_key(scene, theirs)
    assert shows_key(scene, others)
    assert scene.browser().get(f"/answer/{answer.rpartition('/')[2]}").status_code == 404
    assert stays.get("/account").status_code == 200
    with scene.store.snapshot() as tx:
        [left] = [one for one in tx.page_deeds.latest_deeds(9) if one.kind is DeedKind.LOST_ACCESS]
        assert not tx.page_deeds.has_signed_in_from("ines", "testclient")
        assert tx.page_deeds.has_signed_in_from("wren", "testclient")
    assert left.who == "ines"
    assert "left the yard's file, key-" in left.about
    signed_in(scene, "ines", "a fifth cold word more")  # by a new link
    assert leaves(scene, "nobody") == 0, "a start with the same file ends nothing"
    assert sign_in(scene.browser(), "ines", "a fifth cold word more").status_code == 303


def test_who_has_left_is_nobody_before_that_was_written_down(scene):
    browser = signed_in(scene, "wren")
    assert browser.get("/account").status_code == 200
    other = SignInScene(scene.store, yard=yard_without(scene, "wren")).browser()
    other.cookies.set(COOKIE, browser.cookies[COOKIE])
    assert other.get("/account").status_code == 303


def test_an_owner_s_link_ends_with_the_owner_and_not_with_who_made_it(scene):
    with scene.store.transaction() as tx:
        now = scene.clock.now()
        secret, _ = make_owner_link(tx, OWNER, 30, now, "ines")
        third, _ = make_craft_link(tx, "k1", "an insurer", 30, now, "ines")
    signed_in(scene, "ines")
    leaves(scene, "ines")
    assert opens(scene, f"/owner/{secret}")
    assert opens(scene, f"/owner/{third}")
    leaves(scene, OWNER)
    assert not opens(scene, f"/owner/{secret}")
    assert opens(scene, f"/owner/{third}")


def test_who_is_an_owner_no_more_loses_the_links_and_keeps_the_password(scene):
    person = scene.yard.person("ines")
    both = replace(person, roles=person.roles | {Role.OWNER})
    others = tuple(one for one in scene.yard.people if one.id != "ines")
    with scene.store.transaction() as tx:
        _, grant = make_owner_link(tx, "ines", 30, scene.clock.now(), "wren")
    signed_in(scene, "ines")
    with scene.store.transaction() as tx:
        yard = replace(scene.yard, people=(*others, both))
        assert end_access_of_leavers(tx, yard, scene.clock.now()) == 0
        assert end_access_of_leavers(tx, scene.yard, scene.clock.now()) == 1
    assert grants(scene)[grant.id].withdrawn_at == scene.clock.now()
    assert sign_in(scene.browser()).status_code == 303


def seen_by_somebody(scene, session, link, secret):
    """Each is asked for, past its end."""
    assert session.get("/account").status_code == 303
    assert scene.browser().get(link).status_code == 404
    assert scene.browser().get(f"/owner/{secret}").status_code == 404


def swept_in_the_night(scene, *_):
    with scene.store.transaction() as tx:
        prune_access(tx, scene.clock.now())


@pytest.mark.usefixtures("scenes_on_both")
@pytest.mark.parametrize("ended", [seen_by_somebody, swept_in_the_night])
def test_a_clock_set_back_revives_nothing_that_was_seen_past_its_end(scene, ended):
    session, link = signed_in(scene, "ines"), link_for(scene, "wren")
    with scene.store.transaction() as tx:
        secret, grant = make_owner_link(tx, OWNER, 7, scene.clock.now(), "ines")
    scene.after(days=8)
    ended(scene, session, link, secret)
    scene.clock._now -= timedelta(days=7)  # a clock of readings never goes back by itself
    seen_by_somebody(scene, session, link, secret)
    gone = grants(scene)[grant.id]
    assert gone.has_run_out
    assert not gone.is_good_at(scene.clock.now())


def test_nothing_that_is_good_still_ends_with_what_has_run_out(scene):
    session = signed_in(scene, "ines")
    scene.after(days=4)
    link = link_for(scene, "wren")
    with scene.store.transaction() as tx:
        now = scene.clock.now()
        secret, _ = make_owner_link(tx, OWNER, 7, now, "ines")
        key, _ = make_key(tx, "collector", AccessRole.READER, now, "ines")
        end_expired_access(tx, now + timedelta(days=2))
    scene.after(days=2)
    assert session.get("/account").status_code == 200
    assert opens(scene, link)
    assert opens(scene, f"/owner/{secret}")
    assert shows_key(scene, key)


@pytest.mark.usefixtures("scenes_on_both")
def test_what_ended_leaves_the_list_in_time_and_stays_among_the_deeds(scene):
    with scene.store.transaction() as tx:
        now = scene.clock.now()
        _, short = make_owner_link(tx, OWNER, 7, now, "ines")
        _, long = make_owner_link(tx, OWNER, 300, now, "ines")
    for days in (8, ENDED_GRANTS_FOR.days - 2):
        scene.after(days=days)
        swept_in_the_night(scene)
        assert set(grants(scene)) == {short.id, long.id}
    scene.after(days=2)
    swept_in_the_night(scene)
    assert set(grants(scene)) == {long.id}
    with scene.store.snapshot() as tx:
        assert any(short.id in one.about for one in tx.page_deeds.latest_deeds(9))


@pytest.mark.parametrize(
    "foreign",
    ["Basic d2F0Y2g6ZG9vcg==", "Bearer eyJhbGciOiJub25lIn0.e30.", "Digest x", "Bearer", "é"],
)
def test_a_word_that_a_proxy_puts_in_for_its_own_door_hides_no_session(scene, foreign):
    header = {"Authorization": foreign.encode()}
    browser = signed_in(scene)
    assert browser.get("/account", headers=header).status_code == 200
    assert scene.browser().get("/account", headers=header).status_code == 303
    assert scene.browser().get("/api/assess", headers=header).status_code == 401
    # By the session they are a person, whose forms need their own token.
    assert browser.post("/sign-out", headers=header).status_code == 403


def test_a_key_is_found_beside_a_proxy_s_word_and_a_wrong_one_is_nobody(scene):
    browser = signed_in(scene)
    with scene.store.transaction() as tx:
        key, _ = make_key(tx, "collector", AccessRole.READER, scene.clock.now(), "ines")
    both = [("Authorization", "Basic d2F0Y2g6ZG9vcg=="), ("Authorization", f"Bearer {key}")]
    assert scene.browser().get("/api/assess", headers=both).status_code == 200
    wrong = {"Authorization": f"Bearer laidup-key-{'Z' * 43}"}
    assert browser.get("/account", headers=wrong).status_code == 303


def put_right(browser, path, craft="", **said):
    """An operator sends a form of the yard's pages."""
    token = browser.get("/yard/place").text.partition('name="form_token" value="')[2].split('"')[0]
    if craft:
        page = browser.get(f"/yard/craft/{craft}").text
        version = page.partition('name="version" value="')[2].split('"')[0]
        said |= {"craft": craft, "version": version}
    answer = browser.post(path, data={"form_token": token, **said})
    assert answer.status_code == 303, answer.text


def told_of(craft, person, topic="frost"):
    """A thread that told an owner of frost in these craft."""
    dangers = {f"{one}/block#frost": NotifiedDanger(rank=2, about=one) for one in craft}
    return Conversation(
        thread=f"{topic}/{person}", person=person, topic=topic, opened_at=NOW, count=1, sent=(NOW,),
        told=dangers, owner=True,
    )  # fmt: skip


@pytest.mark.usefixtures("scenes_on_both")
def test_a_craft_that_is_another_s_is_the_former_owner_s_and_their_guests_no_more(scene):
    other = OWNERS[1].id
    with scene.store.transaction() as tx:
        now = scene.clock.now()
        former, kept = make_owner_link(tx, OWNER, 30, now, "ines")
        new, _ = make_owner_link(tx, other, 30, now, "ines")
        guest, _ = make_craft_link(tx, "k1", "an insurer", 30, now, "ines")
        elsewhere, _ = make_craft_link(tx, "k2", "an insurer", 30, now, "ines")
        tx.conversations.put(
            [told_of(["k1"], OWNER), told_of(["k1", "k7"], OWNER, "damp"), told_of(["k2"], other)]
        )
    for path in (f"/owner/{former}", f"/owner/{guest}"):
        assert "Teal" in scene.browser().get(path).text
    assert "Teal" not in scene.browser().get(f"/owner/{new}").text
    record = "craft/k1/season-record.json"
    assert opens(scene, f"/owner/{former}/{record}")

    scene.after(minutes=5)
    put_right(signed_in(scene, "ines"), "/yard/craft/mend", craft="k1", owner=other)
    page = scene.browser().get(f"/owner/{former}")
    assert page.status_code == 200  # of their other craft, of which there is none
    assert "Teal" not in page.text
    assert not opens(scene, f"/owner/{former}/{record}")
    assert not opens(scene, f"/owner/{former}/claim/k1")
    assert not opens(scene, f"/owner/{guest}")
    assert opens(scene, f"/owner/{elsewhere}")
    assert "Teal" in scene.browser().get(f"/owner/{new}").text
    assert grants(scene)[kept.id].withdrawn_at is None
    with scene.store.snapshot() as tx:
        # No letter calls the craft safe to somebody whose it is no more; others hear on.
        assert {one.thread: set(one.told) for one in tx.conversations.open_threads()} == {
            f"damp/{OWNER}": {"k7/block#frost"},
            f"frost/{other}": {"k2/block#frost"},
        }


@pytest.mark.usefixtures("scenes_on_both")
def test_an_owner_s_old_mail_address_opens_nothing_once_there_is_another(scene):
    with scene.store.transaction() as tx:
        now = scene.clock.now()
        old, _ = make_owner_link(tx, OWNER, 30, now, "ines")
        other, _ = make_owner_link(tx, OWNERS[1].id, 30, now, "ines")
    owner, waiting = signed_in(scene, OWNER), link_for(scene, OWNER)
    operator = signed_in(scene, "ines")
    said = {"part": "people", "key": OWNER, "name": OWNERS[0].name}
    put_right(operator, "/yard/items", **said, mail=OWNERS[0].mail.upper())
    assert opens(scene, f"/owner/{old}")  # the same address, in other letters
    put_right(operator, "/yard/items", **said, mail="new@lake.example")
    assert not opens(scene, f"/owner/{old}")
    assert opens(scene, f"/owner/{other}")
    assert not opens(scene, waiting)
    assert owner.get("/own-craft").status_code == 303
    assert sign_in(scene.browser(), OWNER).status_code != 303
    assert (OWNER, DeedKind.LOST_ACCESS) in deeds(scene)
