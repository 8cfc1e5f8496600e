"""Craft files: what a season's list and record may say, and what is said of mistakes."""

from datetime import UTC, datetime

import pytest

from monitor.craft.layup import Act
from monitor.errors import ConfigurationError
from monitor.settings.craft_file import load_craft
from tests.craft.scene import CRAFT_FILE, FLOZ, ZONE, library, record, work, yard

ONE = """
[[craft]]
id = "k1"
name = "Teal"
profile = "pwc-two-stroke"
owner = "owner-k01"
hull_number = "kettle01"
arrived = 2026-10-24T10:00:00
[[craft.stays]]
place = "long-shed/1"
[[craft.layup]]
at = 2026-10-27T10:00:00
by = "Ines Aldaz"
act = "antifreeze-poured"
circuits = ["water-box"]
product = { name = "pink", liquid = "propylene", strength = "50%" }
quantity = "12floz"
ice_point = "-22F"
"""
CSV = "id,name,profile,arrived,place,fittings,owner\n"


@pytest.fixture
def told(tmp_path):
    def read(text: str, name: str = "winter.toml") -> list[str]:
        path = tmp_path / name
        path.write_text(text)
        with pytest.raises(ConfigurationError) as caught:
            load_craft(path, yard(), library())
        return [str(fault) for fault in caught.value.faults]

    return read


def load(tmp_path, text, name="winter.toml", **more):
    path = tmp_path / name
    path.write_text(text)
    return load_craft(path, yard(), library(), **more)


def test_what_people_write_arrives_in_si_and_utc(tmp_path):
    [record] = load(tmp_path, ONE)
    [entry] = record.entries
    assert entry.quantity_l == pytest.approx(12 * FLOZ)
    assert entry.evidence.ice_point_c == pytest.approx(-30.0)
    assert entry.product.strength == 0.5
    # The yard's wall clock in October: Chicago is 5 h behind UTC (tz database).
    assert entry.at.astimezone(UTC) == datetime(2026, 10, 27, 15, 0, tzinfo=UTC)
    assert record.craft.hull_number == "KETTLE01"
    [stay] = record.stays
    assert (stay.space, stay.berth, stay.since) == ("long-shed", "1", record.craft.arrived_at)


def test_a_strength_by_volume_is_turned_into_mass(tmp_path):
    [record] = load(tmp_path, ONE.replace('"50%"', '"30%", strength_by = "volume"'))
    # 30 % of ethanediol's milder sister by volume: 1036.1 and 998.2 kg/m³ (handbook of chemistry).
    by_mass = 0.3 * 1036.1 / (0.3 * 1036.1 + 0.7 * 998.2)
    assert record.entries[0].product.strength == pytest.approx(by_mass, abs=1e-4)


def test_the_demo_yard_is_read_whole():
    records = load_craft(CRAFT_FILE, yard(), library())
    assert len(records) == 12
    assert sum(len(one.entries) for one in records) > 100


@pytest.mark.parametrize(
    ("change", "key", "words"),
    [
        ('"50%"|"120%"', "craft[1].layup[1].product.strength", "outside what a strength can be"),
        ('"50%"|"80%"', "craft[1].layup[1]", "dilute a concentrate first"),
        ('"12floz"|"14gal"', "craft[1].layup[1].quantity", "slip of unit"),
        ('"12floz"|"12"', "craft[1].layup[1].quantity", "takes one of"),
        (
            "2026-10-27T10:00:00|2026-10-20T10:00:00",
            "craft[1].layup[1].at",
            "before Teal (k1) came",
        ),
        ('["water-box"]|["water-bax"]', "craft[1].layup[1].circuits", "Did you mean 'water-box'?"),
        ('"pwc-two-stroke"|"pwc-two-strok"', "craft[1].profile", "Did you mean 'pwc-two-stroke'?"),
        ('"owner-k01"|"owner-k99"', "craft[1].owner", "nobody of this yard"),
        ('"long-shed/1"|"long-shad/1"', "craft[1].stays[1].place", "Did you mean 'long-shed'?"),
        ('by = "Ines Aldaz"|by = " "', "craft[1].layup[1].by", "it is empty"),
        (
            'act = "antifreeze-poured"|act = "poured"',
            "craft[1].layup[1].act",
            "'antifreeze-poured'",
        ),
        ('name = "Teal"|name = "Teal"\nhul_number = "X"', "craft[1].hul_number", "'hull_number'"),
        ('"-22F"|"30C"', "craft[1].layup[1]", "Was a sign or a unit lost?"),
    ],
)
def test_a_slip_is_named_with_its_key_and_remedy(told, change, key, words):
    before, after = change.split("|")
    assert before in ONE
    found = told(ONE.replace(before, after, 1))
    assert len(found) == 1
    assert key in found[0]
    assert words in found[0]


@pytest.mark.parametrize("name", ["Teal\\nBcc: all", "Teal\\u202e", "Te\\u2028al"])
def test_a_name_is_one_line_that_reads_one_way(told, name):
    [fault] = told(ONE.replace('"Teal"', f'"{name}"'))
    assert "craft[1].name" in fault
    assert "line breaks" in fault


def test_two_craft_with_one_hull_number_are_refused(told):
    second = ONE.replace('"k1"', '"k2"').replace("Teal", "Plover").replace("kettle01", "KETTLE01")
    [found] = told(ONE + second)
    assert "craft[2].hull_number" in found
    assert "which is Teal's" in found


def test_two_craft_with_one_id_are_refused(told):
    assert any("craft[2].id" in one for one in told(ONE + ONE.replace("kettle01", "kettle02")))


def test_every_slip_of_a_file_is_told_at_once(told):
    text = ONE.replace('"owner-k01"', '"nobody"').replace("long-shed/1", "moon/1")
    assert len(told(text)) == 2


def test_a_craft_that_stands_nowhere_is_refused(told):
    text = ONE.replace('[[craft.stays]]\nplace = "long-shed/1"\n', "")
    assert "stands nowhere" in told(text)[0]


def test_a_correction_may_replace_what_only_the_store_holds(tmp_path, told):
    text = ONE + '[[craft.layup]]\nat = 2026-10-28T10:00:00\nby = "T"\nact = "withdrawn"\n'
    text += 'replaces = "flush-1"\n'
    assert "no entry 'flush-1'" in told(text)[0]
    flush = work(Act.FLUSHED, -24, id="flush-1")
    ours = text.replace('by = "T"', 'by = "owner-k01"').replace("Ines Aldaz", "owner-k01")
    [teal] = load(tmp_path, ours, on_record={"k1": record(flush)})
    assert teal.entries[1].replaces == "flush-1"


def test_new_work_names_people_of_the_yard_and_does_not_contradict_itself(tmp_path):
    text = ONE + "dry = true\n"
    with pytest.raises(ConfigurationError) as caught:
        load(tmp_path, text, on_record={})
    told = [str(fault) for fault in caught.value.faults]
    assert any("layup[1].by" in one and "nobody of this yard" in one for one in told)
    assert any("layup[1].ice_point" in one and "seen dry, and a sample" in one for one in told)
    [teal] = load(tmp_path, text)  # the store may hold it from before there were such limits
    old = {"k1": record(*teal.entries)}
    assert load(tmp_path, text, on_record=old)[0].entries == teal.entries


def test_a_seasons_list_comes_as_csv(tmp_path):
    rows = "k1,Teal,pwc-two-stroke,2026-10-24 10:00,long-shed/1,,owner-k01\n" + (
        "k2,Kite,outboard,2026-10-25T09:00,lee-rack,washdown ballast,\n"
    )
    teal, kite = load(tmp_path, CSV + rows, "season.csv")
    assert teal.craft.arrived_at == datetime(2026, 10, 24, 10, 0, tzinfo=ZONE)
    assert (kite.craft.fittings, kite.stays[0].space) == (("washdown", "ballast"), "lee-rack")
    assert "shower" in kite.profile.circuit_ids


def test_a_spreadsheets_csv_with_semicolons_and_a_byte_order_mark_is_read(tmp_path):
    text = "\ufeff" + CSV.replace(",", ";") + "k1;Teal;outboard;2026-10-24;lee-rack;;\n\n"
    assert load(tmp_path, text, "season.csv")[0].craft.name == "Teal"


@pytest.mark.parametrize(
    ("text", "key", "words"),
    [
        ("id,name\nk1,Teal\n", "line 1", "lacks profile, arrived, place"),
        (CSV.replace("owner", "ownr"), "line 1", "has ownr"),
        (CSV + "k1,Teal,outboard,2026-10-24,lee-rack,,owner-k01,x\n", "line 2", "more fields"),
        (CSV + "k1,Teal,outboard,yesterday,lee-rack,,\n", "line 2: arrived", ""),
        (CSV + "k1,Teal,outboard,2026-10-24,,,\n", "line 2: place", "stands nowhere"),
        (CSV, "craft", ""),
    ],
)
def test_a_slip_in_a_csv_is_named(told, text, key, words):
    found = told(text, "season.csv")
    assert key in found[0]
    assert words in found[0]


def test_a_file_that_is_not_there_is_named(tmp_path):
    for name in ("none.toml", "none.csv"):
        with pytest.raises(ConfigurationError, match="no such file"):
            load_craft(tmp_path / name, yard(), library())


def test_a_measured_lag_must_be_of_a_circuit_that_is_there(told):
    text = ONE + '[craft.measured.boiler]\nlag = ["1h", "2h"]\nhow = "probe"\n'
    assert "no circuit 'boiler'" in told(text)[0]


def test_a_slip_in_a_list_is_named_with_its_line_and_column(told):
    # A note of two lines puts the second craft on line 4.
    heading = CSV.strip() + ",note\n"
    rows = 'k1,Teal,outboard,2026-10-20,long-shed,"of\ntwo"\nk2,Kite,outbord,2026-10-20,attic,\n'
    found = told(heading + rows, "season.csv")
    assert any("season.csv: line 4: profile: there is no profile 'outbord'" in one for one in found)
    assert any("season.csv: line 4: place: 'attic' is no space" in one for one in found)


def test_a_list_names_types_places_and_owners_as_people_do(tmp_path):
    person = next(one for one in yard().people if one.id == "owner-k01")
    rows = (
        f"K1,Teal,PWC two stroke,20 Oct 2026,Long Shed/1,,{person.name}\n"
        "k2,Kite,Outboard,10/25/2026 9:00,LEE-RACK,Washdown,\n"
    )
    heading = CSV.replace("arrived", "Arrived").replace(",", "\t")
    teal, kite = load(tmp_path, heading + rows.replace(",", "\t"), "season.csv")
    assert (teal.craft.id, teal.craft.profile, teal.craft.owner) == (
        "k1",
        "pwc-two-stroke",
        person.id,
    )
    assert (teal.stays[0].space, teal.stays[0].berth) == ("long-shed", "1")
    assert teal.craft.arrived_at == datetime(2026, 10, 20, 0, 0, tzinfo=ZONE)
    assert kite.craft.arrived_at == datetime(2026, 10, 25, 9, 0, tzinfo=ZONE)
    assert (kite.craft.profile, kite.craft.fittings) == ("outboard", ("washdown",))


def test_every_slip_of_a_list_is_told_at_once_with_its_line(told):
    rows = (
        "k1,Teal,outbord,12 Oct,long-shed,,owner-k01\n"
        "k2,Kite,outboard,2026-10-20,attic,,nobody\n"
        "k3,Lark,outboard,2026-10-20,long-shed,,,one more\n"
        "k4,Wren,outboard,10.11.2026,long-shed,boiler,\n"
        "k2,Rail,outboard,2026-10-20,long-shed,,\n"
    )
    found = "\n".join(told(CSV + rows, "season.csv"))
    for words in (
        "line 2: profile: there is no profile 'outbord'. Did you mean 'outboard'?",
        "line 2: arrived: '12 Oct' names no year",
        "line 3: place: 'attic' is no space",
        "line 3: owner: 'nobody' is nobody of this yard",
        "line 4: it has more fields",
        "line 5: arrived: '10.11.2026' may be two different days",
        "line 5: fittings: there is no profile 'boiler'",
        "line 6: id: Rail has 'k2', which is Kite's",
    ):
        assert words in found


def test_a_craft_that_is_still_to_come_is_a_slip_where_it_is_taken_in_now(tmp_path):
    with pytest.raises(ConfigurationError, match="still ahead"):
        load(tmp_path, ONE, now=datetime(2026, 10, 1, tzinfo=UTC))
    assert load(tmp_path, ONE)[0].craft.id == "k1"  # a file of the yard may tell of it before


def test_strokes_in_figures_are_never_taken_for_the_other_engine(tmp_path):
    rows = "k1,Teal,PWC 4-stroke,2026-10-20,long-shed,,\n"
    assert load(tmp_path, CSV + rows, "season.csv")[0].craft.profile == "pwc-four-stroke"


@pytest.mark.parametrize("day", ["2026-10-24", "24 Oct 2026", "10/24/2026", "Sat 24 Oct 2026"])
def test_a_day_of_arrival_begins_at_midnight_however_it_is_written(tmp_path, day):
    """As a date of TOML does, so that a list which is taken in again changes no arrival."""
    [listed] = load(tmp_path, CSV + f"k1,Teal,outboard,{day},lee-rack,,\n", "season.csv")
    [filed] = load(tmp_path, ONE.replace("2026-10-24T10:00:00", "2026-10-24"))
    assert listed.craft.arrived_at == filed.craft.arrived_at
    assert listed.craft.arrived_at == datetime(2026, 10, 24, tzinfo=ZONE)
