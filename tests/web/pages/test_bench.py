"""The bench: a step at a time, what its act can use, what is said back, and one entry a form."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import timedelta
from io import BytesIO

import pytest
from bs4 import BeautifulSoup
from fastapi.testclient import TestClient
from PIL import Image

from monitor.clock import ReadingsClock
from monitor.craft.layup import Act
from monitor.craft.protection import LayupState
from monitor.judgement.inputs import CraftInCare
from monitor.phrases.names import plain
from monitor.settings.load import load_settings, shipped_folder
from monitor.store.store import Store
from monitor.store.taking_in import take_in
from monitor.web.access.roles import AccessRole
from monitor.web.access.visitor import Visitor, VisitorKind
from monitor.web.app import create_app
from tests.real.stores import scene_url
from tests.web.pages.conftest import EMOJI, NASTY, RIGHT_TO_LEFT

PLOVER = "k2"  # a personal watercraft of the demo's yard, whose work is left out here
HERON = "k8"  # a sterndrive
# What a person sees where all goes well, by column.
SEEN = {
    "outflow": "full colour", "ice_point": "26", "scale": "propylene", "oil": "clear",
    "treated_fuel_seen": "yes", "flow_order": "engine first", "space": "bench", "rested": "12.7",
    "dry": "yes",
}  # fmt: skip


class Bench:
    """The demo's yard with one craft of which no work is on record, and a mechanic's browser."""

    def __init__(self, folder, named="Plover", craft=PLOVER, **yard):
        self.craft = craft
        self.settings = load_settings(shipped_folder() / "demo" / "yard.toml")
        self.yard = replace(self.settings.yard, **yard)
        latest = max(entry.at for one in self.settings.craft for entry in one.entries)
        self.clock = ReadingsClock(latest + timedelta(days=1))
        records = [
            replace(one, entries=(), craft=replace(one.craft, name=named))
            if one.craft.id == craft
            else one
            for one in self.settings.craft
        ]
        self.store = Store(scene_url(folder), self.yard.id)
        with self.store.transaction() as tx:
            take_in(tx.layup, records, self.settings.profiles, self.clock.now())
        self.care = CraftInCare(self.store, self.settings.profiles, self.yard, self.clock)
        self.app = create_app(
            self.store, self.yard, self.clock, self.care.read_now, profiles=self.settings.profiles
        )
        self.web = TestClient(self.app, base_url="http://127.0.0.1")

    def browser_of(self, person):
        """The browser of somebody who has signed in."""
        visitor = Visitor(
            kind=VisitorKind.PERSON,
            role=AccessRole.MECHANIC,
            person=self.yard.person(person),
            craft=None,
            form_token="t",
        )

        class SignedIn:
            async def find_visitor(self, *_):
                return visitor

        app = create_app(
            self.store, self.yard, self.clock, self.care.read_now,
            profiles=self.settings.profiles, access=SignedIn(),
        )  # fmt: skip
        return TestClient(app, base_url="http://127.0.0.1")

    def page(self, query=""):
        answer = self.web.get(f"/craft/{self.craft}/bench{query}")
        assert answer.status_code == 200
        return BeautifulSoup(answer.text, "html.parser")

    def send(self, data, status=200, photos=()):
        files = [("photo", (f"{n}.jpg", one, "image/jpeg")) for n, one in enumerate(photos)]
        answer = self.web.post(f"/craft/{self.craft}/bench", data=data, files=files or None)
        assert answer.status_code == status, answer.text
        return BeautifulSoup(answer.text, "html.parser")

    def record(self):
        with self.store.snapshot() as tx:
            return tx.layup.record_of(self.craft, self.settings.profiles)

    def work(self):
        return self.record().on_record

    def states(self):
        one = next(one for one in self.care.read_now() if one.id == self.craft)
        return {held.state for held in one.protection.values()}

    def skip_to(self, kind):
        """The page of the first step of a kind, by the list of all steps."""
        for link in self.page().select(".steps a"):
            if f"step={kind}" in link["href"]:
                return self.page(link["href"].removeprefix("bench"))
        raise AssertionError(kind)


@pytest.fixture
def bench(tmp_path):
    made = Bench(tmp_path)
    yield made
    made.store.close()


def filled(page, **said):
    """What a form sends as it stands, with what a person changes in it."""
    form = page.select_one("form.entry")
    data = {}
    for one in form.select("input"):
        if one.get("type") not in {"radio", "checkbox"} or one.has_attr("checked"):
            data[one["name"]] = one.get("value", "")
    for one in form.select("select"):
        data[one["name"]] = (one.select_one("option[selected]") or one.option)["value"]
    for one in form.select("textarea"):
        data[one["name"]] = one.text
    return data | said


def asked(page):
    return {one["name"] for one in page.select("form.entry :is(input, select, textarea)")}


def seen_of(page, bench):
    today = bench.clock.now().date().isoformat()
    everything = SEEN | {"zeroed_on": today}
    return {key: value for key, value in everything.items() if key in asked(page)}


def words(tag):
    return " ".join(tag.get_text(" ").split())


def test_a_whole_personal_watercraft_is_laid_up_step_by_step(bench):
    page = bench.page()
    assert "9 steps left, about 2 h 30 min, 9.0 L of 50 % propylene glycol" in words(page)
    for number in range(1, 10):
        assert words(page.select_one(".place")) == f"{number} of 9"
        page = bench.send(filled(page, **seen_of(page, bench)))
        assert "On record" in words(page)
    assert "Nothing is left to do" in words(page)
    assert bench.states() == {LayupState.PROVEN}
    assert "What it holds now" in words(page)
    assert len(bench.work()) == 9


def test_the_next_step_says_what_is_held_and_who_proved_it(bench):
    page = bench.skip_to("run-antifreeze")
    after = words(bench.send(filled(page, **seen_of(page, bench))))
    assert "On record" in after
    assert "Ines Aldaz" in after
    assert "holds to −26.0 °C; measured with a refractometer . Proven." in after


def test_no_evidence_is_filled_in_by_anybody_but_the_person(bench):
    page = bench.skip_to("run-antifreeze")
    for query in ("", "&same=yes"):
        again = bench.page(f"?step={page.find('input', {'name': 'step'})['value']}{query}")
        sent = filled(again)
        assert sent["quantity"] == "9" or query
        assert sent["product"] == "50 % propylene glycol"
        assert {sent[one] for one in ("outflow", "ice_point", "scale", "zeroed_on")} == {""}


def test_each_step_asks_for_nothing_that_its_act_cannot_use(bench):
    hidden = {"form_token", "draft", "step", "act", "photo"}
    cover = bench.skip_to("cover")
    assert asked(cover) - hidden == {"cover", "note"}
    fuel = bench.skip_to("run-treated-fuel")
    assert asked(fuel) - hidden >= {"treated_fuel_seen", "flow_order"}
    assert not asked(fuel) & {"quantity", "ice_point", "outflow", "oil", "rested", "product"}


def test_a_contradiction_is_said_beside_its_field_and_what_was_typed_stays(bench):
    page = bench.skip_to("run-antifreeze")
    sent = filled(page, **seen_of(page, bench), note="by hand") | {"outflow": "none"}
    refused = bench.send(sent, status=422)
    beside = refused.select_one("#told-ice_point")
    assert "nothing came out" in words(beside).lower()
    assert "Not on record" in words(refused.select_one("[role=alert]"))
    kept = filled(refused)
    assert {key: kept[key] for key in sent} == sent
    assert "Enter it all the same" not in words(refused)  # it cannot be true
    assert bench.work() == ()


def test_what_would_prove_nothing_is_said_first_and_can_be_entered_all_the_same(bench):
    page = bench.skip_to("run-antifreeze")
    said = words(bench.send(filled(page), status=422))
    assert "Not on record yet" in said
    assert "this would not prove" in said
    assert bench.work() == ()
    after = bench.send(filled(page, knowing="yes"))
    assert "not proven" in words(after)
    assert [one.act for one in bench.work()] == [Act.ANTIFREEZE_RUN_THROUGH]
    assert LayupState.PROVEN not in bench.states()


def test_a_coolant_that_reads_too_weak_is_strengthened_and_read_again_at_the_bench(tmp_path):
    bench = Bench(tmp_path, craft="k3")

    def read(reading, status=200, **said):
        bench.clock.advance_to(bench.clock.now() + timedelta(minutes=20))
        page = bench.skip_to("test-coolant")
        today = bench.clock.now().date().isoformat()
        of_it = {"ice_point": reading, "scale": "ethylene", "zeroed_on": today}
        return bench.send(filled(page, **of_it, **said), status=status)

    told = words(read("-5", status=422).select_one("#told-ice_point"))
    assert "Read at −5.0 °C, and it takes −22.0 °C or colder" in told
    read("-5", knowing="yes")
    bench.clock.advance_to(bench.clock.now() + timedelta(minutes=20))
    page = bench.skip_to("renew-coolant")
    assert asked(page) - {"form_token", "draft", "step", "act", "photo"} == {"note"}
    assert "On record" in words(bench.send(filled(page)))  # nothing is said against it
    read("-37")
    assert [one.act for one in bench.work()] == [Act.INSPECTED, Act.CIRCUIT_OPENED, Act.INSPECTED]
    one = next(one for one in bench.care.read_now() if one.id == "k3")
    held = one.protection["coolant"]
    assert (held.state, held.ice_point_c) == (LayupState.PROVEN, -37.0)
    bench.store.close()


def test_a_cold_engine_is_told_beside_the_question(tmp_path):
    bench = Bench(tmp_path, craft=HERON, named="Heron")
    sent = {
        "form_token": filled(bench.page())["form_token"], "draft": "b-0123456789abcdef",
        "step": "run-antifreeze/block", "act": "antifreeze-run-through",
        "product": "50 % propylene glycol", "engine_hot": "no",
    }  # fmt: skip
    said = bench.send(sent, status=422)
    assert "its thermostat is shut" in words(said.select_one("#told-engine_hot"))
    assert filled(said)["engine_hot"] == "no"
    assert bench.work() == ()
    bench.store.close()


def test_a_form_that_is_sent_twice_or_at_once_makes_one_entry(bench):
    page = bench.page()
    sent = filled(page)
    with ThreadPoolExecutor(4) as several:
        answers = list(
            several.map(lambda _: TestClient(bench.app, base_url="http://127.0.0.1").post(
                f"/craft/{PLOVER}/bench", data=sent).status_code, range(4))
        )  # fmt: skip
    assert set(answers) == {200}
    assert "On record" in words(bench.send(sent))
    assert len(bench.work()) == 1


def test_a_form_sent_again_after_it_was_taken_back_brings_nothing_back(bench):
    sent = filled(bench.page())
    after = bench.send(sent)
    bench.send({"form_token": sent["form_token"],
                "undo": after.find("button", {"name": "undo"})["value"]})  # fmt: skip
    again = words(bench.send(sent))
    assert "was taken back" in again
    assert [one.act for one in bench.work()] == [Act.FUEL_STABILISED, Act.WITHDRAWN]


def test_the_same_work_of_the_same_moment_is_told_in_words_of_the_bench(bench):
    first, second = bench.page(), bench.page()
    bench.send(filled(first))
    told = words(bench.send(filled(second, knowing="yes"), status=422))
    assert "Ines Aldaz entered this very work of this very moment" in told
    assert "replaces" not in told
    assert len(bench.work()) == 1


def test_two_mechanics_on_one_craft_hear_of_each_other(bench):
    first, second = bench.page(), bench.page()
    bench.send(filled(first))
    told = bench.send(filled(second, note="mine"), status=422)
    assert "Since this page was opened, Ines Aldaz entered fuel-stabilised" in words(told)
    assert filled(told)["note"] == "mine"
    assert len(bench.work()) == 1
    bench.clock.advance_to(bench.clock.now() + timedelta(minutes=1))
    bench.send(filled(told, knowing="yes"))
    assert len(bench.work()) == 2


def test_what_another_mechanic_did_meanwhile_is_told_by_name_and_neither_entry_is_lost(bench):
    first, second = bench.browser_of("operator"), bench.browser_of("mechanic")
    address = f"/craft/{PLOVER}/bench"
    opened = [BeautifulSoup(one.get(address).text, "html.parser") for one in (first, second)]
    first.post(address, data=filled(opened[0]))
    bench.clock.advance_to(bench.clock.now() + timedelta(minutes=2))
    answer = second.post(address, data=filled(opened[1], note="topped up"))
    assert answer.status_code == 422
    told = BeautifulSoup(answer.text, "html.parser")
    name = bench.yard.person("operator").name
    assert f"Since this page was opened, {name} entered fuel-stabilised" in words(told)
    second.post(address, data=filled(told, knowing="yes"))
    assert [(one.by, one.note) for one in bench.work()] == [
        ("operator", ""),
        ("mechanic", "topped up"),
    ]
    taken = second.post(address, data={"form_token": "t", "undo": bench.work()[0].id})
    assert taken.status_code == 422  # nobody takes back what another did
    assert len(bench.work()) == 2


def test_a_yard_of_fahrenheit_and_ounces_is_asked_and_understood_in_them(tmp_path):
    bench = Bench(tmp_path, temperature_unit="F", volume_unit="floz")
    page = bench.skip_to("run-antifreeze")
    units = {words(one) for one in page.select("form.entry .unit")}
    assert units == {"gal", "°F"}
    sent = filled(page, **seen_of(page, bench) | {"ice_point": "-15", "quantity": "2.5"})
    after = words(bench.send(sent))
    (entry,) = bench.work()
    assert entry.quantity_l == pytest.approx(2.5 * 3.785411784)  # US gallon, exact
    assert entry.evidence.ice_point_c == pytest.approx((-15 - 32) / 1.8)
    assert "−15 °F" in after or "−15.0 °F" in after
    assert "°C" not in after
    bench.store.close()


def test_answers_that_waited_in_the_phone_are_of_when_they_were_given(bench):
    bench.send(filled(bench.page(), waited="5400"))
    assert bench.work()[0].at == bench.clock.now() - timedelta(minutes=90)


@pytest.mark.parametrize(
    "hostile",
    [
        {"waited": "-5"},
        {"waited": "99999999999999999999"},
        {"waited": "1e3"},
        {"draft": "k2"},
        {"draft": "../../etc"},
        {"step": "cover/" + "x" * 5000},
        {"step": "nothing-of-the-kind"},
        {"step": "run-antifreeze/no-such-circuit"},
        {"act": "DROP TABLE"},
        {"note": "a" * 2001},
        {"note": "bell\x07"},
        {"product": "x\u202ey"},
    ],
)
def test_a_form_that_nobody_was_given_writes_nothing(bench, hostile):
    sent = filled(bench.page()) | hostile
    if "act" in hostile:
        sent["step"] = "gone"
    said = bench.send(sent, status=422)
    assert "Not on record" in words(said)
    assert bench.work() == ()


@pytest.mark.parametrize("reading", ["cold", "26 26", "1e400", "-200", "٢٦x", "9" * 41])
def test_a_reading_that_is_none_is_told_beside_it(bench, reading):
    page = bench.skip_to("run-antifreeze")
    said = bench.send(filled(page, **seen_of(page, bench) | {"ice_point": reading}), status=422)
    assert words(said.select_one("#told-ice_point"))
    assert filled(said)["ice_point"] == reading
    assert bench.work() == ()


def test_something_found_wrong_goes_on_record_and_stays_open(bench):
    page = bench.page("?found=yes")
    told = bench.send(filled(page), status=422)
    assert "This one is needed." in words(told)
    after = bench.send(filled(page, part="cooling hose", words=NASTY, kind="crack"))
    assert "On record" in words(after)
    assert NASTY not in str(after)
    (entry,) = bench.work()
    assert [(one.part, one.words, one.kind) for one in entry.findings] == [
        ("cooling hose", NASTY, "crack")
    ]
    assert "cooling hose" in words(bench.page())


@pytest.mark.parametrize("name", [NASTY, RIGHT_TO_LEFT, EMOJI])
def test_a_name_of_any_kind_is_text_and_nothing_else(tmp_path, name):
    bench = Bench(tmp_path, named=name)
    page = bench.page()
    shown = plain(name)
    assert words(page.select_one("h1 bdi")) == shown
    assert [one.get("src") for one in page.find_all("script") if not one.get("src")] == []
    picked = BeautifulSoup(bench.web.get("/bench").text, "html.parser").select(".pick bdi")
    assert shown in [words(one) for one in picked]
    bench.store.close()


def jpeg(colour="pink"):
    exif = Image.Exif()
    exif[0x8825] = {2: (44.0, 30.0, 12.5)}  # where it was taken
    out = BytesIO()
    Image.new("RGB", (60, 40), colour).save(out, "JPEG", exif=exif)
    return out.getvalue()


def photo_of(bench, name):
    return bench.web.get(f"/craft/{bench.craft}/photos/{name}")


def test_a_photo_goes_on_record_with_its_step_and_is_shown_as_a_picture_and_nothing_else(bench):
    sent = filled(bench.page())
    after = bench.send(sent, photos=[jpeg(), jpeg("blue")])
    (entry,) = bench.work()
    names = entry.evidence.photo_sha256
    assert len(names) == 2
    assert [one["src"] for one in after.select(".told img")] == [
        f"../../craft/{PLOVER}/photos/{name}" for name in names
    ]
    shown = photo_of(bench, names[0])
    assert shown.headers["content-type"] == "image/jpeg"
    assert shown.headers["x-content-type-options"] == "nosniff"
    assert not dict(Image.open(BytesIO(shown.content)).getexif())
    assert bench.web.get(f"/craft/{HERON}/photos/{names[0]}").status_code == 404
    assert bench.web.get(f"/craft/{PLOVER}/photos/{'a' * 64}").status_code == 404
    assert bench.web.get(f"/craft/{PLOVER}/photos/..%2f..%2fetc").status_code in {404, 422}
    page = BeautifulSoup(bench.web.get(f"/craft/{PLOVER}").text, "html.parser")
    assert page.select_one(f"#record ~ ol img[src$='{names[0]}'], .record img[src$='{names[0]}']")
    bench.send(sent, photos=[jpeg()])  # once more, by a phone that heard no answer
    assert len(bench.work()) == 1


def test_a_photo_outlives_what_is_said_against_its_form(bench):
    page = bench.skip_to("run-antifreeze")
    told = bench.send(filled(page), status=422, photos=[jpeg()])
    (name,) = filled(told)["kept_photos"].split()
    assert photo_of(bench, name).status_code == 200
    bench.send(filled(told, knowing="yes"))
    (entry,) = bench.work()
    assert entry.evidence.photo_sha256 == (name,)
    assert LayupState.PROVEN not in bench.states()  # a photo alone proves nothing


@pytest.mark.parametrize(
    ("sent", "why"),
    [
        (b"<script>alert(1)</script>", "no photo"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "HEIC"),
        (jpeg()[:300], "cannot be kept"),
    ],
)
def test_what_is_no_photo_is_told_beside_it_and_nothing_else_is_lost(bench, sent, why):
    told = bench.send(filled(bench.page(), note="mine"), status=422, photos=[jpeg(), sent])
    beside = words(told.select_one("#told-photo"))
    assert "Photo 2" in beside
    assert why in beside
    assert filled(told)["note"] == "mine"
    assert len(filled(told)["kept_photos"].split()) == 1
    assert bench.work() == ()


def test_more_than_a_form_may_bring_is_refused_before_it_is_held(bench):
    sent = filled(bench.page())
    huge = bench.web.post(
        f"/craft/{PLOVER}/bench", data=sent, files={"photo": ("a.jpg", b"\0" * 17_000_000)}
    )
    assert huge.status_code == 413
    many = [("photo", (f"{n}.jpg", jpeg())) for n in range(9)]
    answer = bench.web.post(f"/craft/{PLOVER}/bench", data=sent, files=many)
    assert answer.status_code == 413
    assert "4 photos" in answer.text
    elsewhere = bench.web.post("/sign-in", data={}, files={"photo": ("a.jpg", b"\0" * 100_000)})
    assert elsewhere.status_code in {404, 405, 413}
    assert bench.work() == ()


def test_a_photo_of_a_form_without_its_token_is_not_kept(bench):
    sent = {**filled(bench.page()), "form_token": "made up"}
    answer = bench.web.post(f"/craft/{PLOVER}/bench", data=sent, files={"photo": ("a.jpg", jpeg())})
    assert answer.status_code == 403
    with bench.store.snapshot() as tx:
        assert tx._connection.exec_driver_sql("SELECT count(*) FROM photos").scalar() == 0


def test_where_done_led_before_leads_to_the_bench(bench):
    answer = bench.web.get(f"/craft/{PLOVER}/done", follow_redirects=False)
    assert answer.status_code == 308
    page = BeautifulSoup(bench.web.get(f"/craft/{PLOVER}/done").text, "html.parser")
    assert "Nothing is left to do against tonight's frost" in words(page)
    assert page.select_one("form.entry")  # the rest of its lay-up


def test_a_housing_with_clear_oil_is_not_called_empty(bench):
    page = bench.skip_to("change-oil")
    after = words(bench.send(filled(page, **seen_of(page, bench))))
    assert "clear oil, no water in it" in after
    assert "nothing: seen dry" not in after


def test_what_a_person_set_the_refractometer_to_is_taken_over_the_same_day(bench):
    page = bench.skip_to("run-antifreeze")
    bench.send(filled(page, **seen_of(page, bench), witness="tom"))
    bench.craft = "k12"  # its run on the hose has undone what was filled in
    step = next(
        one["href"] for one in bench.page().select(".steps a") if "run-antifreeze" in one["href"]
    )
    other = bench.page(step.removeprefix("bench") + "&same=yes")
    sent = filled(other)
    for box in other.select("input[type=radio][checked]"):
        sent[box["name"]] = box["value"]
    assert sent["scale"] == "propylene"
    assert sent["zeroed_on"] == bench.clock.now().date().isoformat()
    assert {sent["outflow"], sent["ice_point"]} == {""}  # what was seen is of one craft alone


def test_a_craft_that_is_not_in_the_yard_has_no_bench(bench):
    assert bench.web.get("/craft/k99/bench").status_code == 404
