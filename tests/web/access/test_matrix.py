"""Every route and method, asked by everybody: what comes back is what the table says."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup

from monitor.craft.layup import Act
from monitor.store.sign_ins import KeptPassword
from monitor.web.access.keys_and_links import make_craft_link, make_key, make_owner_link
from monitor.web.access.keys_and_links import withdraw_grant as withdraw
from monitor.web.access.roles import AccessRole
from monitor.web.access.route_rights import ROUTE_RIGHTS
from monitor.web.access.sessions import begin_session
from monitor.yard.space import Person, Role
from tests.craft.scene import library, twelve
from tests.reports import kettlemoss
from tests.web.access.matrix import PAGE, VISITORS, allowed, page_with_matrix
from tests.web.access.scene import OWNERS, SignInScene, yard_with

CRAFT = [one.craft for one in twelve().values()]
OWNER, OTHER_OWNER = (one.id for one in OWNERS)
OWNED = next(one for one in CRAFT if one.owner == OWNER)
OTHERS = next(one for one in CRAFT if one.owner == OTHER_OWNER)
MECHANIC = Person(
    id="vera", name="Vera Holm", mail="vera@yard.example", roles=frozenset({Role.MECHANIC})
)
EVERY = [(method, row) for row in ROUTE_RIGHTS for method in row.methods]


class Everybody(SignInScene):
    """The page, and one of each who may come to it."""

    def __init__(self, store):
        yard = yard_with(*OWNERS, MECHANIC)
        super().__init__(store, yard, records=twelve().values())
        now = self.clock.now()
        operator = next(one.id for one in yard.people if Role.OPERATOR in one.roles)
        self.cookies, self.headers, self.tokens = {}, {}, {}
        with store.transaction() as tx:
            for visitor, person in (
                ("operator", operator), ("mechanic", MECHANIC.id), ("owner", OWNER),
                ("other owner", OTHER_OWNER),
            ):  # fmt: skip
                tx.sign_ins.put_password(person, KeptPassword("kept", now))
                self.cookies[visitor] = begin_session(tx, person, now, "test")
            for visitor, role in (
                ("reader key", AccessRole.READER), ("mechanic key", AccessRole.MECHANIC),
            ):  # fmt: skip
                self.headers[visitor], _ = make_key(tx, visitor, role, now, "test")
            self.tokens["owner link"], _ = make_owner_link(tx, OWNER, 30, now, "test")
            self.tokens["other owner link"], _ = make_owner_link(tx, OTHER_OWNER, 30, now, "test")
            self.tokens["third party link"], _ = make_craft_link(
                tx, OWNED.id, "an insurer", 30, now, "test"
            )
            self.tokens["expired link"], _ = make_owner_link(
                tx, OWNER, 1, now - timedelta(days=1), "test"
            )
            self.tokens["revoked link"], gone = make_owner_link(tx, OWNER, 30, now, "test")
            withdraw(tx, gone.id, now, "test")
            self.headers["revoked key"], gone = make_key(
                tx, "gone", AccessRole.OPERATOR, now, "test"
            )
            withdraw(tx, gone.id, now, "test")

    def ask(self, visitor, method, row, craft=OWNED.id):
        browser = self.browser()
        if visitor in self.cookies:
            browser.cookies.set("__Host-laidup", self.cookies[visitor])
        headers = {"Accept": "text/html"}
        if visitor in self.headers:
            headers["Authorization"] = f"Bearer {self.headers[visitor]}"
        path = row.path
        for part, value in self.path_parts(visitor, craft).items():
            path = path.replace(part, value)
        assert "{" not in path, f"{row.path} was asked for as it stands in the table"
        return browser.request(method, path, headers=headers)

    def path_parts(self, visitor, craft):
        """What stands in a path for each of its parts: something that is there, if it can be."""
        return {
            "{craft}": craft,
            "{token}": self.tokens.get(visitor, "B" * 43),
            "{secret}": "C" * 43,
            "{alarm}": "none",
            "{space}": self.yard.spaces[0].id,
            "{week}": "2026-W46",
            "{path:path}": "laidup.css",
            "{evening}": "2026-11-14",
            "{photo}": "a" * 64,
            "{page}": "sensors",
            "{number}": "1",
        }


@pytest.fixture
def everybody(store):
    return Everybody(store)


@pytest.fixture(scope="module")
def all_strangers(tmp_path_factory) -> Iterator[Everybody]:
    """The same for whoever is let in nowhere, and so changes nothing for the next one."""
    store = kettlemoss.open_store(tmp_path_factory.mktemp("strangers"))
    kettlemoss.fill(store)
    yield Everybody(store)
    store.close()


def refused(answer):
    """Whether the guard sent somebody away; what a route itself refuses has got past it."""
    if answer.status_code == 303:
        return "sign-in" in answer.headers["location"] or answer.headers["location"] == "own-craft"
    if answer.status_code == 401:
        return "show a key" in answer.text
    if answer.status_code == 403:
        return "you may not do this here" in answer.text.lower()
    return answer.status_code == 404 and any(
        one in answer.text.lower() for one in ("ask the yard for a new one", "is on record")
    )


@pytest.mark.parametrize("visitor", VISITORS)
def test_what_each_visitor_gets_is_what_the_table_says(everybody, visitor):
    for method, row in EVERY:
        if row.path.startswith("/sign-out") and allowed(visitor, row) != "no":
            continue  # would end what the next row needs; its own test has it
        answer = everybody.ask(visitor, method, row)
        assert answer.status_code < 500 or row.path == "/health", (method, row.path)
        assert refused(answer) == (allowed(visitor, row) == "no"), (
            visitor, method, row.path, answer.status_code, answer.text[:200],
        )  # fmt: skip


@pytest.mark.parametrize("visitor", ["other owner", "owner"])
def test_an_owner_gets_nothing_of_another_s_craft_and_cannot_tell_whether_it_is_there(
    everybody, visitor
):
    craft = OWNED.id if visitor == "other owner" else OTHERS.id
    for method, row in EVERY:
        if "{craft}" not in row.path:
            continue
        answer = everybody.ask(visitor, method, row, craft)
        unknown = everybody.ask(visitor, method, row, "no-such-craft")
        assert refused(answer), row.path
        assert answer.status_code == unknown.status_code
        assert answer.text.replace(craft, "no-such-craft") == unknown.text
        assert OWNED.name not in answer.text


@pytest.mark.parametrize("visitor", ["expired link", "revoked link", "stranger", "reader key"])
def test_a_link_that_is_expired_revoked_or_made_up_opens_nothing_in_one_and_the_same_way(
    everybody, visitor
):
    for method, row in EVERY:
        if "{token}" in row.path:
            answer = everybody.ask(visitor, method, row)
            assert answer.status_code == 404
            assert answer.text == everybody.ask("stranger", method, row).text


def test_a_revoked_key_opens_nothing(everybody):
    for method, row in EVERY:
        if row.needs is not None:
            assert refused(everybody.ask("revoked key", method, row)), row.path


def test_a_link_shows_its_own_craft_and_no_name_of_another(everybody):
    [row] = [one for one in ROUTE_RIGHTS if one.path == "/owner/{token}"]
    own = {one.name for one in CRAFT if one.owner == OWNER}
    others = {one.name for one in CRAFT} - own
    page = everybody.ask("owner link", "GET", row)
    assert page.status_code == 200
    assert all(name in page.text for name in own)
    assert not any(name in page.text for name in others)
    assert page.headers["cache-control"] == "no-store"
    assert page.headers["referrer-policy"] == "no-referrer"
    third = everybody.ask("third party link", "GET", row)
    assert OWNED.name in third.text
    assert not any(name in third.text for name in others | (own - {OWNED.name}))


def test_an_owner_who_signs_in_has_the_very_page_of_the_link(everybody):
    rows = {(method, row.path): row for method, row in EVERY}
    assert everybody.ask("owner", "GET", rows["GET", "/"]).headers["location"] == "own-craft"
    page = everybody.ask("owner", "GET", rows["GET", "/own-craft"])
    by_link = everybody.ask("owner link", "GET", rows["GET", "/owner/{token}"])

    def shown(answer):
        [state] = BeautifulSoup(answer.text, "html.parser").select("#state")
        return state.get_text(" ", strip=True)

    assert OWNED.name in shown(page)
    assert shown(page) == shown(by_link)
    # The token in the query is no link: who has signed in stays who they are.
    other = everybody.tokens["other owner link"]
    browser = everybody.browser()
    browser.cookies.set("__Host-laidup", everybody.cookies["owner"])
    assert OTHERS.name not in browser.get(f"/own-craft?token={other}").text


def test_an_owner_who_signs_in_tells_the_yard_of_the_own_craft_and_of_no_other(everybody):
    browser = everybody.browser()
    browser.cookies.set("__Host-laidup", everybody.cookies["owner"])
    page = BeautifulSoup(browser.get("/own-craft").text, "html.parser")
    form = page.find("form", action="./own-craft/ran")
    token = form.find("input", {"name": "form_token"})["value"]
    local = everybody.clock.now().astimezone(everybody.yard.zone)
    at = (local - timedelta(hours=2)).strftime("%Y-%m-%dT%H:%M")

    def tell(craft, form_token):
        fields = {"craft": craft, "at": at, "form_token": form_token}
        return browser.post("/own-craft/ran", data=fields)

    def runs(craft):
        with everybody.store.snapshot() as tx:
            entries = tx.layup.records_of([craft], library())[craft].entries
        return [one.by for one in entries if one.act is Act.RUN_ON_WATER]

    assert tell(OWNED.id, "x" * 64).status_code == 403
    assert tell(OTHERS.id, token).status_code == 404
    taken = tell(OWNED.id, token)
    assert (taken.status_code, taken.headers["location"]) == (303, "../own-craft")
    assert OWNER in runs(OWNED.id)
    assert OWNER not in runs(OTHERS.id)


def test_who_scans_a_label_is_asked_to_sign_in_and_learns_nothing(all_strangers):
    stranger = all_strangers.browser()
    there, not_there = (stranger.get(f"/craft/{one}") for one in (OWNED.id, "no-such-craft"))
    assert there.status_code == not_there.status_code == 303
    assert there.headers["location"] == f"../sign-in?next=/craft/{OWNED.id}"
    pages = [
        stranger.get(f"/sign-in?next=/craft/{one}").text.replace(one, "it")
        for one in (OWNED.id, "no-such-craft")
    ]
    assert pages[0] == pages[1]
    assert OWNED.name not in pages[0]


def test_a_stranger_hears_of_health_the_status_alone(everybody):
    said = everybody.browser().get("/health")
    assert set(said.json()) == {"status"}
    assert said.json()["status"] in {"pass", "warn", "fail"}
    key = {"Authorization": f"Bearer {everybody.headers['reader key']}"}
    assert "checks" in everybody.browser().get("/health", headers=key).json()


@pytest.mark.parametrize(
    "path",
    [
        "/craft%2fk2", "/craft/..%2f..%2fapi%2fassess", "//craft/k2", "/craft//k2", "/craft/k2/",
        "/CRAFT/k2", "/craft/k2%00", "/static/../api/assess", "/static/%2e%2e/%2e%2e/app.py",
        "/api/assess%20", "/api/assess;x", "/.//api/assess", "/owner/", "/owner/x/y",
    ],
)  # fmt: skip
@pytest.mark.parametrize("method", ["GET", "HEAD", "OPTIONS", "POST", "PUT", "TRACE", "get"])
def test_no_odd_way_of_writing_a_path_or_method_gets_in(all_strangers, path, method):
    answer = all_strangers.browser().request(method, f"https://watch.yard.example{path}")
    assert answer.status_code in {303, 401, 404, 405}
    for one in CRAFT:
        assert one.name not in answer.text


def test_the_page_of_the_handbook_holds_this_very_table():
    written = PAGE.read_text(encoding="utf-8")
    assert written == page_with_matrix(written), "python -m tests.web.access.matrix"
