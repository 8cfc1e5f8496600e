"""The link of a message: a scanner that fetches it changes nothing, one press answers, once."""

from concurrent.futures import ThreadPoolExecutor
from urllib.parse import urljoin

import pytest
from axe_playwright_python.sync_playwright import Axe
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient

from monitor.alarms.acts.answers import GOOD_FOR, Answers
from monitor.alarms.round import AlarmRound
from monitor.web.app import create_app
from monitor.web.server import PageServer
from monitor.yard.alarm import AlarmState
from tests.alarms.scene import Scene, cold_night
from tests.web.test_page import RULES


class Night(Scene):
    """A cold night whose mail to the operator holds a link."""

    def __init__(self, folder):
        super().__init__(folder)
        self.answers = Answers(self.store, self.clock, "https://watch.yard.example/answer")
        self.round = AlarmRound(self.store, self.yard, self.clock, answers=self.answers)
        self.judge(*cold_night(self))
        self.app = create_app(self.store, self.yard, self.clock, list, answers=self.answers)
        self.client = TestClient(self.app)
        text = self.messages("maren")[0].text
        self.path = next(
            word.removeprefix("https://watch.yard.example")
            for word in text.split()
            if "/answer/" in word
        )

    def states(self):
        with self.store.snapshot() as tx:
            return {alarm.state for alarm in tx.alarms.open_alarms()}

    def by(self):
        with self.store.snapshot() as tx:
            return {
                event.by
                for alarm in tx.alarms.open_alarms()
                for event in tx.alarms.history_of(alarm.id)
                if event.after is AlarmState.ACKNOWLEDGED
            }


@pytest.fixture
def night(tmp_path):
    return Night(tmp_path)


def heading(answer):
    return BeautifulSoup(answer.text, "html.parser").h2.get_text()


def test_a_scanner_that_fetches_the_link_changes_nothing(night):
    before = night.states()
    for _ in range(5):
        assert night.client.get(night.path).status_code == 200
        assert night.client.head(night.path).status_code == 200
    assert night.client.options(night.path).status_code == 405
    assert night.states() == before == {AlarmState.UNACKNOWLEDGED}
    found = BeautifulSoup(night.client.get(night.path).text, "html.parser")
    assert found.h2.get_text() == "Maren Ulv, will you take this on?"
    # One line a craft, first ice first.
    assert found.ul.li.get_text().startswith("Osprey, head passages: frost ahead, by 18:15")
    assert found.ul.get_text().count("Osprey") == 1
    assert found.find("script") is None


def test_one_press_acknowledges_in_the_readers_name_and_a_reload_asks_nothing_again(night):
    answer = night.client.post(night.path, follow_redirects=False)
    assert answer.status_code == 303  # the browser comes back with GET
    assert answer.headers["location"].startswith("./")  # below whatever path a proxy has it
    assert night.states() == {AlarmState.ACKNOWLEDGED}
    assert night.by() == {"maren"}
    after = night.client.get(urljoin(night.path, answer.headers["location"]))
    assert after.status_code == 200
    assert heading(after) == "Maren Ulv took this on at 16:00"
    told = BeautifulSoup(after.text, "html.parser").ul.get_text()
    for name in ("Osprey", "Bittern", "Heron"):
        assert name in told, "the page says what was acknowledged"


def test_a_replay_changes_nothing_and_says_so(night):
    night.client.post(night.path)
    again = night.client.post(night.path, follow_redirects=False)
    assert again.status_code == 409
    assert "used already" in again.text


def test_of_many_presses_at_one_moment_one_counts(night):
    with night.client, ThreadPoolExecutor(8) as hands:  # one loop for all, as when it is served
        answers = list(
            hands.map(
                lambda _: night.client.post(night.path, follow_redirects=False).status_code,
                range(8),
            )
        )
    assert sorted(answers) == [303] + [409] * 7


def test_a_link_that_ran_out_says_so_and_does_nothing(night):
    night.after(seconds=GOOD_FOR.total_seconds())
    looked = night.client.get(night.path)
    assert looked.status_code == 410
    assert heading(looked) == "This link has run out"
    assert night.client.post(night.path).status_code == 409
    assert AlarmState.ACKNOWLEDGED not in night.states()


@pytest.mark.parametrize(
    "guess",
    ["x", "A" * 43, "%00" * 43, "..%2f..%2fetc", "'%20OR%201=1--", "é" * 43, "a" * 5000],
)
def test_a_guess_opens_nothing(night, guess):
    for ask in (night.client.get, night.client.post):
        answer = ask(f"/answer/{guess}")
        assert answer.status_code == 404
    assert night.states() == {AlarmState.UNACKNOWLEDGED}


def test_one_changed_letter_opens_nothing(night):
    other = night.path[:-1] + ("A" if night.path[-1] != "A" else "B")
    assert night.client.post(other).status_code == 404


def test_what_others_have_taken_on_needs_no_answer(night):
    night.client.post(night.path)
    with night.store.transaction() as tx:
        thread = next(each for each in tx.conversations.open_threads() if not each.owner)
        address, link = night.answers.offer("joss", thread.thread, (), night.clock.now())
        night.answers.keep(tx, [link], night.clock.now())
    looked = night.client.get(address.removeprefix("https://watch.yard.example"))
    assert heading(looked) == "Nothing here asks any more"


def test_the_secret_leaves_by_no_header_and_the_page_is_kept_nowhere(night):
    answer = night.client.get(night.path)
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert answer.headers["cache-control"] == "no-store"
    assert "noindex" in answer.headers["x-robots-tag"]
    policy = answer.headers["content-security-policy"]
    assert "form-action 'self'" in policy
    assert "frame-ancestors 'none'" in policy  # nobody lays an invisible button over ours
    assert "set-cookie" not in answer.headers  # no authority that another site could borrow


def test_another_site_cannot_answer_without_the_secret(night):
    for path in ("/answer/", "/answer", "/"):
        answer = night.client.post(path, headers={"Origin": "https://evil.example"})
        assert answer.status_code in {404, 405}
    assert night.states() == {AlarmState.UNACKNOWLEDGED}


def test_a_yard_whose_page_has_no_outside_address_has_no_such_page(night):
    app = create_app(night.store, night.yard, night.clock, list)
    assert TestClient(app).get(night.path).status_code == 404


@pytest.mark.parametrize("width", [320, 1280])
def test_it_works_without_script_on_a_phone_and_a_desk_for_everybody(night, chromium, width):
    server = PageServer(night.app)
    page = chromium.new_page(viewport={"width": width, "height": 844})
    try:
        page.goto(server.start().rstrip("/") + night.path)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        assert Axe().run(page, options=RULES).response["violations"] == []
        assert page.get_by_role("button").bounding_box()["height"] >= 44
        page.get_by_role("button", name="I have taken this on").click()
        page.get_by_role("heading", name="Maren Ulv took this on").wait_for()
        assert Axe().run(page, options=RULES).response["violations"] == []
    finally:
        page.close()
        server.stop()
    assert night.states() == {AlarmState.ACKNOWLEDGED}
