"""People sign in with a password of their own, and every way around it is shut."""

import re
from datetime import timedelta

import pytest
from argon2 import PasswordHasher
from bs4 import BeautifulSoup

from monitor.phrases.account_words import account_words_of
from monitor.store.page_deeds import DeedKind
from monitor.web.access.invitations import invite_person
from tests.web.access.scene import ADDRESS, PASSWORD, SignInScene

COOKIE = "__Host-laidup"


@pytest.fixture
def scene(store):
    return SignInScene(store)


def link_for(scene, person="ines"):
    with scene.store.transaction() as tx:
        secret, _ = invite_person(tx, person, scene.clock.now(), "test")
    return f"/password/{secret}"


def signed_in(scene, person="ines", password=PASSWORD):
    browser = scene.browser()
    answer = browser.post(link_for(scene, person), data={"password": password})
    assert answer.status_code == 303, answer.text
    return browser


def sign_in(browser, name="ines", password=PASSWORD, **more):
    return browser.post("/sign-in", data={"name": name, "password": password, **more})


def form_token(browser):
    page = BeautifulSoup(browser.get("/account").text, "html.parser")
    return page.find("input", {"name": "form_token"})["value"]


def deeds(scene):
    with scene.store.snapshot() as tx:
        return [(one.who, one.kind) for one in tx.page_deeds.latest_deeds(50)]


def test_a_link_sets_a_password_once_and_signs_in(scene):
    path, browser = link_for(scene), scene.browser()
    for _ in range(3):  # a mail scanner looks at it
        assert browser.get(path).status_code == 200
        assert browser.head(path).status_code == 200
    assert browser.post(path, data={"password": PASSWORD}).status_code == 303
    assert browser.get("/account").status_code == 200
    other = scene.browser()
    assert other.post(path, data={"password": "another one of four"}).status_code == 404
    assert other.get("/account").status_code == 303
    assert sign_in(scene.browser()).status_code == 303
    assert sign_in(scene.browser(), "ines@kettlemoss.example").status_code == 303


def test_a_cookie_is_kept_from_scripts_other_sites_and_other_hosts(scene):
    signed_in(scene)
    said = sign_in(scene.browser()).headers["set-cookie"]
    parts = {part.strip().lower() for part in said.split(";")[1:]}
    assert said.startswith(f"{COOKIE}=")
    assert {"secure", "httponly", "samesite=lax", "path=/"} <= parts
    assert not any(part.startswith("domain") for part in parts)


def test_without_tls_the_cookie_is_given_all_the_same_but_under_a_plain_name(store):
    scene = SignInScene(store, address="http://127.0.0.1:8017")
    browser = scene.browser("http://127.0.0.1:8017")
    said = browser.post(link_for(scene), data={"password": PASSWORD}).headers["set-cookie"]
    assert said.startswith("laidup=")
    assert "secure" not in said.lower()


@pytest.mark.usefixtures("scenes_in_files")
def test_the_store_holds_neither_password_nor_session_nor_link(scene):
    path = link_for(scene)
    browser = scene.browser()
    browser.post(path, data={"password": PASSWORD})
    with scene.store.snapshot() as tx:
        kept = tx.sign_ins.password_of("ines").hash
        [session] = tx.sign_ins.sessions_of("ines")
    assert kept.startswith("$argon2id$")
    assert PASSWORD not in kept
    shown = browser.cookies[COOKIE]
    raw = scene.store.path.read_bytes()
    wal = scene.store.path.with_name(f"{scene.store.path.name}-wal")
    raw += wal.read_bytes() if wal.exists() else b""
    for secret in (shown, path.rpartition("/")[2], PASSWORD):
        assert secret.encode() not in raw
    assert session.digest.encode() in raw  # so the search above would have found them


@pytest.mark.parametrize(
    "written",
    [
        "short",
        "a" * 40,
        "x" * 201,
        "Ines Marrow Ines Marrow",
        "kettlemoss kettlemoss",
        "",
        "ab" * 10,
    ],
)
def test_a_password_that_is_guessed_first_is_refused_with_the_way_out(scene, written):
    path, browser = link_for(scene), scene.browser()
    answer = browser.post(path, data={"password": written})
    assert answer.status_code == 422
    problem = BeautifulSoup(answer.text, "html.parser").find(role="alert").get_text()
    assert "will not do" in problem
    assert browser.post(path, data={"password": PASSWORD}).status_code == 303, "the link is good"


def test_unknown_people_and_wrong_passwords_get_one_and_the_same_answer(scene):
    signed_in(scene)
    wrong = [
        sign_in(scene.browser(), name, "not the password at all")
        for name in ("ines", "nobody-here", "wren", "", "'; drop table --", "é" * 500)
    ]
    assert {one.status_code for one in wrong} == {401}
    texts = {re.sub(r'id="name"[^>]*', "", one.text) for one in wrong}
    assert len(texts) == 1
    assert {one.headers.get("set-cookie") for one in wrong} == {None}


def test_as_much_is_worked_out_for_nobody_as_for_somebody(scene, monkeypatch):
    signed_in(scene)
    worked = []
    real = PasswordHasher.verify  # the library's own: its calls are counted

    def counted(self, kept, written):
        worked.append(kept.split("$")[1:4])
        return real(self, kept, written)

    monkeypatch.setattr(PasswordHasher, "verify", counted)
    for name in ("ines", "wren", "nobody-here"):
        sign_in(scene.browser(), name, "not the password at all")
    assert len(worked) == 3
    assert worked[0] == worked[1] == worked[2], "algorithm, version and costs are the same"


def test_a_session_that_a_browser_came_with_is_never_taken_over(scene):
    signed_in(scene)
    browser = scene.browser()
    browser.cookies.set(COOKIE, "B" * 43)
    sign_in(browser)
    assert {one.value for one in browser.cookies.jar if one.name == COOKIE} != {"B" * 43}
    fixed = scene.browser()
    fixed.cookies.set(COOKIE, "B" * 43)
    assert fixed.get("/account").status_code == 303
    old = browser.cookies.jar
    first = next(one.value for one in old if one.value != "B" * 43)
    browser.cookies.clear()
    browser.cookies.set(COOKIE, first)
    sign_in(browser)  # again: the earlier session of this browser has ended
    earlier = scene.browser()
    earlier.cookies.set(COOKIE, first)
    assert earlier.get("/account").status_code == 303


def test_a_session_ends_when_idle_and_ends_anyway(scene):
    browser = signed_in(scene)
    scene.after(days=6, hours=23)
    assert browser.get("/account").status_code == 200
    for _ in range(3):
        scene.after(days=6, hours=23)
        assert browser.get("/account").status_code == 200, "each look goes on from there"
    scene.after(days=3)
    assert browser.get("/account").status_code == 303, "thirty days are over"
    again = scene.browser()
    sign_in(again)
    scene.after(days=7)
    assert again.get("/account").status_code == 303, "idle for seven days"


def test_a_page_that_renews_itself_keeps_nobody_signed_in(scene):
    browser = signed_in(scene)
    poll = {"Laidup-Renewal": "1"}
    for _ in range(6):
        scene.after(days=1)
        assert browser.get("/", headers=poll).status_code == 200
    assert browser.get("/").status_code == 200, "somebody opened the page anew"
    for _ in range(6):
        scene.after(days=1)
        assert browser.get("/", headers=poll).status_code == 200
    scene.after(days=1)
    assert browser.get("/", headers=poll).headers["location"] == "./sign-in"


def test_a_clock_set_back_revives_neither_a_used_link_nor_what_was_made_later(scene):
    path = link_for(scene)
    browser = scene.browser()
    browser.post(path, data={"password": PASSWORD})
    scene.clock._now -= timedelta(days=2)  # a clock of readings never goes back by itself
    assert scene.browser().post(path, data={"password": PASSWORD}).status_code == 404
    assert browser.get("/account").status_code == 303
    assert sign_in(scene.browser()).status_code == 303, "whoever knows the password gets in"


def test_sign_out_and_sign_out_everywhere(scene):
    one, other = signed_in(scene), scene.browser()
    sign_in(other)
    one.post("/sign-out", data={"form_token": form_token(one)})
    assert one.get("/account").status_code == 303
    assert other.get("/account").status_code == 200
    third = scene.browser()
    sign_in(third)
    answer = other.post("/sign-out/everywhere", data={"form_token": form_token(other)})
    assert answer.status_code == 303
    for browser in (other, third):
        assert browser.get("/account").status_code == 303


def test_a_new_password_ends_all_other_sessions(scene):
    here, elsewhere = signed_in(scene), scene.browser()
    sign_in(elsewhere)
    change = {"form_token": form_token(here), "old": "wrong", "password": "a fifth cold word more"}
    assert here.post("/account/password", data=change).status_code == 403
    assert elsewhere.get("/account").status_code == 200
    done = here.post("/account/password", data={**change, "old": PASSWORD})
    assert done.status_code == 303
    assert here.get("/account").status_code == 200
    assert elsewhere.get("/account").status_code == 303
    assert sign_in(scene.browser()).status_code == 401
    assert sign_in(scene.browser(), password="a fifth cold word more").status_code == 303


@pytest.mark.parametrize("token", ["", "x", "0" * 64, "é"])
def test_a_form_without_its_own_token_does_nothing(scene, token):
    browser = signed_in(scene)
    for path in ("/sign-out", "/sign-out/everywhere", "/account/password"):
        answer = browser.post(path, data={"form_token": token, "old": PASSWORD, "password": "x"})
        assert answer.status_code == 403
    assert browser.get("/account").status_code == 200


def test_a_token_of_another_session_does_nothing(scene):
    one, other = signed_in(scene), signed_in(scene, "wren")
    stolen = form_token(one)
    assert other.post("/sign-out", data={"form_token": stolen}).status_code == 403
    assert stolen not in one.cookies[COOKIE]


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "https://evil.example"},
    ],
)
def test_a_form_on_another_site_neither_signs_in_nor_out(scene, headers):
    browser = signed_in(scene)
    token = form_token(browser)
    out = browser.post("/sign-out", data={"form_token": token}, headers=headers)
    assert out.status_code == 403
    stranger = scene.browser()
    answer = stranger.post("/sign-in", data={"name": "ines", "password": PASSWORD}, headers=headers)
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


def test_where_a_browser_goes_on_after_signing_in_is_a_page_of_ours(scene):
    signed_in(scene)
    for said, to in (
        ("/account", "./account"),
        ("/", "./"),
        ("https://evil.example/", "./"),
        ("//evil.example", "./"),
        ("/\\evil.example", "./"),
        ("/sign-in", "./"),
        ("/account\r\nSet-Cookie: a=b", "./"),
        ("/api/assess", "./"),
        ("javascript:alert(1)", "./"),
    ):
        answer = sign_in(scene.browser(), next=said)
        assert answer.headers["location"] == to, said
        assert "a=b" not in answer.headers.get("set-cookie", "")


def test_a_guesser_is_slowed_down_and_the_person_still_gets_in_from_a_known_place(scene):
    signed_in(scene)
    sign_in(scene.browser())  # from "testclient", where all browsers of this test are
    guesses = [sign_in(scene.browser(), password=f"guess number {n} is wrong") for n in range(14)]
    assert [one.status_code for one in guesses].count(429) >= 3
    assert int(guesses[-1].headers["retry-after"]) <= 60
    assert "Nobody is locked out" in guesses[-1].text
    assert len([one for one in deeds(scene) if one[1] is DeedKind.REFUSED]) <= 10


def test_a_link_is_asked_for_at_the_page_and_nobody_learns_who_is_known(scene):
    answers = [
        scene.browser().post("/sign-in/letter", data={"name": name})
        for name in ("ines", "nobody-here")
    ]
    assert {one.status_code for one in answers} == {200}
    assert len({one.text for one in answers}) == 1
    with scene.store.snapshot() as tx:
        waiting = [one for one, _ in tx.outbox.newest_messages() if one.kind == "sign-in"]
    [letter] = waiting
    assert (letter.person, letter.channel) == ("ines", "mail")
    path = re.search(rf"{ADDRESS}(/password/\S+)", letter.text)[1]
    assert scene.browser().post(path, data={"password": PASSWORD}).status_code == 303


def test_a_newer_link_takes_the_place_of_the_older_one(scene):
    first, second = link_for(scene), link_for(scene)
    assert scene.browser().get(first).status_code == 404
    assert scene.browser().get(second).status_code == 200
    scene.after(days=3)
    assert scene.browser().get(second).status_code == 404


@pytest.mark.parametrize("cookie", ["", "x", "A" * 43, "A" * 8000, "é", '"; drop', "a=b; c"])
def test_a_made_up_cookie_is_nobody(scene, cookie):
    answer = scene.browser().get(
        "/account", headers={"Cookie": f"{COOKIE}={cookie}".encode("utf-8", "replace")}
    )
    assert answer.status_code == 303


def test_what_was_done_is_kept_with_who_and_from_where(scene):
    browser = signed_in(scene)
    sign_in(scene.browser(), password="not the password at all")
    browser.post("/sign-out", data={"form_token": form_token(browser)})
    assert deeds(scene)[:4] == [
        ("ines", DeedKind.SIGNED_OUT),
        ("ines", DeedKind.REFUSED),
        ("ines", DeedKind.SET_PASSWORD),
        ("test", DeedKind.SENT_LINK),
    ]
    with scene.store.snapshot() as tx:
        assert tx.page_deeds.latest_deeds(1)[0].address == "testclient"


@pytest.mark.parametrize(
    ("asked", "language"),
    [("de-AT,de;q=0.9,en;q=0.5", "de"), ("de;q=0, fr;q=x", "en"), ("", "en")],
)
def test_the_form_and_its_refusal_are_in_the_language_that_the_browser_asks_for(
    scene, asked, language
):
    browser = scene.browser()
    browser.headers["Accept-Language"] = asked
    said = account_words_of(language)
    assert f'lang="{language}"' in browser.get("/sign-in").text
    assert said.not_together in sign_in(browser, "ines", "not the password at all").text
