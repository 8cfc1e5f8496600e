"""What the page changes stands over the file; a file that differs is refused, and written anew."""

import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.cli import main
from monitor.errors import ActError, ConfigurationError
from monitor.settings.faults import check_content, read_text_file
from monitor.settings.load import load_settings, shipped_folder
from monitor.settings.yard_acts import InUse, YardBook
from monitor.settings.yard_export import whole_file_text, yard_file_text
from monitor.settings.yard_file import YardFile
from monitor.settings.yard_items import items_of, with_items
from monitor.settings.yard_overlay import present_items
from monitor.store.migrate import migrate
from monitor.store.store import Store
from monitor.toml_text import parse_toml
from monitor.yard.yard_change import ALWAYS, ItemEdit, YardChange, YardPart
from tests.set_clock import SetClock
from tests.tried import tried

NOW = datetime(2026, 11, 12, 15, 0, tzinfo=UTC)
CORNER = "urn:dev:ops:mill-lane-shed-corner"
SHOP = {"space": "shop", "height_m": 1.5, "note": "north wall"}


class Scene:
    """The shipped example in a folder of its own, with a store."""

    def __init__(self, folder: Path, empty: Path) -> None:
        self.file = folder / "yard.toml"
        self.file.write_text((shipped_folder() / "yard.toml").read_text())
        (folder / "craft.toml").write_text("")
        self.url = f"sqlite:///{folder / 'laidup.db'}"
        shutil.copy(empty, folder / "laidup.db")
        self.store = Store(self.url, "mill-lane")
        self.now = NOW
        self.in_use = InUse(spaces={}, people={})

    @property
    def book(self) -> YardBook:
        loaded = load_settings(self.file)
        return YardBook(lambda: loaded, self.store, SetClock(self.now), lambda: self.in_use)

    def edit(self, part, key, after, since=None):
        edit = ItemEdit(part=YardPart(part), key=key, after=after, since=since)
        return self.book.make_changes([edit], "sam")

    def yard(self):
        return load_settings(self.file).yard


@pytest.fixture(scope="module")
def empty_store(tmp_path_factory):
    file = tmp_path_factory.mktemp("empty") / "laidup.db"
    migrate(f"sqlite:///{file}")
    return file


@pytest.fixture
def scene(tmp_path, empty_store):
    made = Scene(tmp_path, empty_store)
    yield made
    made.store.close()


def test_a_change_at_the_page_stands_over_the_file_with_person_and_time(scene):
    [made] = scene.edit("sensors", CORNER, SHOP)
    assert (made.by, made.at, made.before["space"]) == ("sam", NOW, "shed")
    sensor = next(one for one in scene.yard().sensors if one.name == CORNER)
    assert (sensor.space, sensor.height_m, sensor.since) == ("shop", 1.5, NOW)


def test_readings_before_a_move_count_to_the_place_where_the_sensor_hung_then(scene):
    scene.edit("sensors", CORNER, SHOP)
    [earlier] = scene.yard().earlier_sensors
    assert (earlier.sent_as, earlier.space, earlier.since, earlier.until) == (
        CORNER, "shed", None, NOW,
    )  # fmt: skip


def test_a_place_that_was_only_written_wrong_is_corrected_for_all_the_past(scene):
    scene.edit("sensors", CORNER, SHOP, since=ALWAYS)
    yard = scene.yard()
    assert yard.earlier_sensors == ()
    assert next(one for one in yard.sensors if one.name == CORNER).since is None


def test_a_move_that_is_taken_back_never_was(scene):
    [made] = scene.edit("sensors", CORNER, SHOP)
    scene.book.undo_change(made.number, "vera")
    yard = scene.yard()
    assert yard == load_settings(shipped_folder() / "yard.toml").yard
    assert [one.by for one in scene.book.read_changes()] == ["sam", "vera"]


def test_a_new_sensor_tells_nothing_of_the_time_before_it_was_taken_in(scene):
    scene.edit("sensors", "urn:dev:ops:mill-lane-new", {"space": "shed"})
    sensor = scene.yard().sensors[-1]
    assert (sensor.name, sensor.since) == ("urn:dev:ops:mill-lane-new", NOW)


def test_what_a_file_without_the_page_cannot_say_is_refused_in_words(scene):
    with pytest.raises(ActError, match="'attic', which is no space of this yard"):
        scene.edit("sensors", CORNER, {"space": "attic"})
    with pytest.raises(ActError, match="Nobody has the role operator"):
        scene.edit("people", "sam", None)
    with pytest.raises(ActError, match=r"(?i)write it like"):
        scene.edit("shelf", "pink-50", {"label": "Pink", "strength": "a lot"})
    assert scene.book.read_changes() == []


@pytest.mark.parametrize("part", ["spaces", "people", "helpers"])
def test_a_name_with_a_mark_that_turns_the_direction_is_refused(scene, part):
    name = "Vera\u202eLund"
    after = {
        "spaces": {"name": name, "kind": "cold"},
        "people": {"name": name, "mail": "vera@mill-lane.example", "roles": ["mechanic"]},
        "helpers": {"name": name},
    }
    with pytest.raises(ActError, match="marks that turn the direction"):
        scene.edit(part, "vera", after[part])


def test_such_a_name_of_an_earlier_version_is_read_without_the_mark(scene):
    kept = YardChange(
        number=1, at=NOW, since=NOW, by="sam", part=YardPart.SPACES, key="loft", before=None,
        after={"name": "Lo\u202eft", "kind": "cold"},
    )  # fmt: skip
    with scene.store.transaction() as tx:
        tx.yard_changes.add([kept])
    assert scene.yard().space("loft").name == "Loft"


def test_a_space_in_which_craft_stand_does_not_go(scene):
    scene.in_use = InUse(spaces={"shed": 2}, people={})
    scene.edit("sensors", CORNER, SHOP)
    with pytest.raises(ActError, match="2 craft stand there; move them first"):
        scene.edit("spaces", "shed", None)


def test_the_same_said_in_other_words_is_no_change(scene):
    said = {"label": "Pink 50 %", "strength": "50.0 %", "lot": "P26-117", "container": "128 floz"}
    assert scene.edit("shelf", "pink-50", said) == []


def test_a_time_to_come_and_one_before_the_last_move_are_refused(scene):
    with pytest.raises(ActError, match="still to come"):
        scene.edit("sensors", CORNER, SHOP, since=NOW + timedelta(minutes=1))
    scene.edit("sensors", CORNER, SHOP)
    scene.now += timedelta(hours=2)
    with pytest.raises(ActError, match="moved since then"):
        scene.edit("sensors", CORNER, {"space": "shed"}, since=NOW - timedelta(hours=1))


def test_a_file_that_says_a_third_thing_is_refused_with_the_command_that_mends_it(scene):
    scene.edit("sensors", CORNER, SHOP)
    load_settings(scene.file)  # it still says what stood there before: only older
    text = scene.file.read_text()
    scene.file.write_text(text.replace('space = "shed"\nheight_m = 0.8', 'space = "shed"'))
    with pytest.raises(ConfigurationError) as refused:
        load_settings(scene.file)
    told = " ".join(map(str, refused.value.faults))
    assert "yard.toml" in told
    assert "sensors[2].height_m" in told
    assert "the file says nothing, the page 1.5 since 2026-11-12 15:00 UTC by sam" in told
    assert "laidup export yard --out yard.toml" in told
    command = ["export", "yard", "--config", str(scene.file), "--out", str(scene.file)]
    assert main(command) == 0
    assert next(one for one in scene.yard().sensors if one.name == CORNER).height_m == 1.5


def test_an_item_that_the_page_never_touched_stays_the_files(scene):
    scene.edit("sensors", CORNER, SHOP)
    scene.file.write_text(scene.file.read_text().replace("Heated shop", "Warm shop"))
    assert scene.yard().space("shop").name == "Warm shop"


def test_an_export_keeps_the_comments_of_what_it_does_not_touch(scene):
    scene.edit("sensors", CORNER, SHOP)
    scene.edit("yard", "timezone", {"value": "America/Denver"})
    before = scene.file.read_text()
    assert main(["export", "yard", "--config", str(scene.file), "--out", str(scene.file)]) == 0
    after = scene.file.read_text()
    lost = set(before.splitlines()) - set(after.splitlines())
    assert lost == {'timezone = "America/Chicago"', 'space = "shed"'}
    assert "# Copies of the store, one a night" in after
    assert scene.yard().zone.key == "America/Denver"


TEXT = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), max_size=20)
NAME = TEXT.map(lambda one: f"a{one.strip()}b")
PLACE = st.fixed_dictionaries(
    {"space": st.sampled_from(["shop", "shed"])},
    optional={
        "note": TEXT,
        "height_m": st.floats(0, 30),
        "mount": st.sampled_from(["air", "surface"]),
    },
)
SHELF = st.fixed_dictionaries(
    {
        "label": NAME,
        "strength": st.floats(0.01, 0.6).map(lambda one: f"{one * 100}%"),
        "container": st.floats(0.1, 200).map(lambda one: f"{one}L"),
    },
    optional={"liquid": st.sampled_from(["propylene", "ethylene"])},
)
PERSON = st.fixed_dictionaries(
    {
        "name": NAME,
        "mail": st.just("a@b.example"),
        "roles": st.sets(st.sampled_from(["operator", "mechanic", "owner"]), min_size=1).map(
            sorted
        ),
    },
    optional={
        "quiet": st.just({"begins": "22:00", "ends": "06:00"}),
        "spaces": st.sets(st.sampled_from(["shop", "shed"])).map(sorted),
        "temperature_unit": st.sampled_from(["C", "F"]),
    },
)
EDITS = st.dictionaries(
    st.one_of(
        st.tuples(st.just(YardPart.SENSORS), st.sampled_from([CORNER, "urn:dev:ops:new"])),
        st.tuples(st.just(YardPart.SHELF), st.sampled_from(["pink-50", "blue"])),
        st.tuples(st.just(YardPart.PEOPLE), st.sampled_from(["owner-001", "vera"])),
        st.tuples(st.just(YardPart.SPACES), st.sampled_from(["loft"])),
        st.tuples(st.just(YardPart.HELPERS), st.sampled_from(["jo", "al"])),
        st.tuples(st.just(YardPart.YARD), st.sampled_from(["name", "telephone"])),
        st.tuples(st.just(YardPart.DUTY), st.just("duty")),
    ),
    st.integers(0, 10_000),
    max_size=6,
)
OF_PART = {
    YardPart.SENSORS: st.none() | PLACE,
    YardPart.SHELF: st.none() | SHELF,
    YardPart.PEOPLE: st.none() | PERSON,
    YardPart.SPACES: st.fixed_dictionaries(
        {"name": NAME, "kind": st.just("heated")},
        optional={
            name: st.floats(-20, 30).map(lambda one: f"{one}C")
            for name in ("thermostat", "storage_low")
        },
    ),
    YardPart.HELPERS: st.none() | NAME.map(lambda one: {"name": one}),
    YardPart.DUTY: st.just(
        {"hands": 3, "shifts": [{"person": "sam", "begins": "18:00", "ends": "06:00"}]}
    ),
}


@settings(max_examples=tried(25))
@given(st.data())
def test_what_is_exported_loads_to_the_same_yard(data):
    text = (shipped_folder() / "yard.toml").read_text()
    items = {}
    for item in data.draw(EDITS):
        if item[0] is YardPart.YARD:
            value = data.draw(NAME) if item[1] == "name" else "715-555-0100"
            items[item] = {"value": value}
        else:
            items[item] = data.draw(OF_PART[item[0]])
    said = with_items(parse_toml(text), items)
    meant = check_content(YardFile, said, Path("page"))
    for made in (yard_file_text(text, said, items), whole_file_text(said)):
        assert check_content(YardFile, parse_toml(made), Path("file")) == meant
    # and what is said of it in the one form of the store means the same once more
    known = dict.fromkeys(items_of(check_content(YardFile, parse_toml(text), Path("example"))))
    stored = with_items(parse_toml(text), known | items_of(meant))
    again = check_content(YardFile, stored, Path("store"))
    assert items_of(again) == items_of(meant)


def test_of_many_changes_the_last_of_each_item_is_present(scene):
    for height in (1.0, 2.0):
        scene.edit("sensors", CORNER, {"space": "shed", "height_m": height})
    present = present_items(scene.book.read_changes())
    assert present == {(YardPart.SENSORS, CORNER): {"space": "shed", "height_m": 2.0}}
    assert read_text_file(scene.file)  # untouched
