"""The library of profiles: what ships, what a yard may change, and what is said of mistakes."""

import tomllib

import pytest

from monitor.craft.circuit import Drainage, Way
from monitor.craft.profile import Proof, composed
from monitor.errors import ConfigurationError
from monitor.settings.profiles import load_profiles
from tests.craft.scene import PROFILES, library

SHIPPED = sorted(path.stem for path in PROFILES.glob("*.toml"))
TANK = """
name = "Tank"

[circuits.tank]
name = "tank"
kind = "plumbing"
where = "at its bottom"
material = "plastic"
drainage = "none"
volume = { value = "10L", mark = "estimate", source = "a bucket" }
lag = { value = ["2h", "4h"], mark = "estimate", source = "a guess" }
heat_capacity = { value = "50kJ/K", mark = "estimate", source = "10 L water" }
[circuits.tank.treatments]
drain = ["dry"]
"""


def faults(folders):
    with pytest.raises(ConfigurationError) as caught:
        load_profiles(folders)
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize("name", SHIPPED)
def test_every_shipped_profile_loads_and_every_figure_has_its_source(name):
    profile = library()[name]
    for one in profile.circuits:
        assert {key for key, _ in one.figures} == {"volume", "lag", "heat capacity"}
        for _, figure in one.figures:
            assert figure.mark in {"estimate", "measured"}
            assert figure.source
        assert one.treatments
        assert one.circuit.where
        assert one.circuit.material


# Common practice: the kinds of craft that a yard lays up.
@pytest.mark.parametrize(
    "name",
    [
        "pwc-two-stroke",
        "pwc-four-stroke",
        "jet-boat",
        "jet-boat-twin",
        "outboard",
        "sterndrive-raw-water",
        "inboard-raw-water",
        "inboard-closed-cooled",
        "tow-boat",
        "cuddy",
        "ballast",
        "washdown",
        "fresh-water",
        "head",
        "trailer",
    ],
)
def test_the_yards_craft_types_are_there(name):
    assert name in SHIPPED


def test_the_two_stroke_has_the_circuits_that_crack():
    two_stroke = library()["pwc-two-stroke"]
    assert set(two_stroke.circuit_ids) == {
        "cylinder-passages",
        "exhaust-jacket",
        "water-box",
        "hoses",
        "pump-housing",
    }
    assert two_stroke.find("water-box").circuit.drainage is Drainage.NONE


def test_a_thermostat_block_needs_a_hot_engine():
    block = library()["sterndrive-raw-water"].find("block")
    assert Proof.HOT_ENGINE in block.treatment(Way.RUN_THROUGH).needs
    assert Proof.HOT_ENGINE not in block.treatment(Way.POUR_IN).needs


def test_a_twin_has_each_engines_circuits_and_flows_apart():
    twin = library()["jet-boat-twin"]
    port, starboard = twin.find("port-water-box"), twin.find("starboard-water-box")
    assert port.flow != starboard.flow
    assert port.circuit.name == "port exhaust water box"
    assert twin.battery.capacity_ah == 60.0  # one for both, its own


def test_a_profile_extends_another_and_drops_what_it_lacks():
    tow = library()["tow-boat"]
    assert "coolant" in tow.circuit_ids
    assert "shower" in tow.circuit_ids
    assert "livewell" not in tow.circuit_ids


def test_adding_a_type_is_adding_one_file(tmp_path):
    (tmp_path / "tank.toml").write_text(TANK)
    assert "tank" in load_profiles([PROFILES, tmp_path])


def test_a_yards_file_may_change_one_figure_of_a_shipped_profile(tmp_path):
    (tmp_path / "outboard.toml").write_text(
        'extends = "outboard"\n[circuits.gearcase]\n'
        'lag = { value = ["2.4h", "2.8h"], mark = "measured", source = "probe, 3 to 10 Nov" }\n'
    )
    changed = load_profiles([PROFILES, tmp_path])["outboard"].find("gearcase").circuit
    shipped = library()["outboard"].find("gearcase").circuit
    assert (changed.lag_low_h, changed.lag_high_h) == (2.4, 2.8)
    assert changed.figures == "measured: lag (probe, 3 to 10 Nov)"
    assert changed.volume_l == shipped.volume_l
    assert shipped.figures == "estimate"


def test_a_yards_file_of_the_same_name_replaces_the_shipped_one(tmp_path):
    (tmp_path / "outboard.toml").write_text(TANK)
    assert load_profiles([PROFILES, tmp_path])["outboard"].circuit_ids == ("tank",)


def test_what_extends_an_overridden_profile_follows_it(tmp_path):
    (tmp_path / "pwc-two-stroke.toml").write_text(
        'extends = "pwc-two-stroke"\n[battery]\ncapacity = "20Ah"\n'
        '[circuits.hoses]\nname = "braided hoses"\n'
    )
    twin = load_profiles([PROFILES, tmp_path])["jet-boat-twin"]
    assert twin.find("port-hoses").circuit.name == "port braided hoses"


def test_a_yards_own_washdown_without_a_livewell_leaves_the_tow_boat_that_drops_it_fit(tmp_path):
    (tmp_path / "washdown.toml").write_text(TANK)
    tow_boat = load_profiles([PROFILES, tmp_path])["tow-boat"]
    assert "tank" in tow_boat.circuit_ids
    assert "livewell" not in tow_boat.circuit_ids


def test_a_drop_in_the_yards_own_file_of_what_its_own_profile_lacks_is_still_a_slip(tmp_path):
    (tmp_path / "washdown.toml").write_text(TANK)
    (tmp_path / "tug.toml").write_text('extends = "washdown"\nname = "Tug"\ndrop = ["livewell"]\n')
    (fault,) = faults([PROFILES, tmp_path])
    assert "tug.toml: drop: there is no circuit 'livewell'" in fault


@pytest.mark.parametrize(
    ("change", "key", "remedy"),
    [
        ('value = "10L"|value = "10"', "circuits.tank.volume.value", "takes one of l, ml"),
        ('value = "10L"|value = 10', "circuits.tank.volume.value", "needs its unit"),
        ('value = "10L"|value = "-1L"', "circuits.tank.volume.value", "outside what a volume"),
        ('"2h", "4h"|"4h", "2h"', "circuits.tank.lag.value", "Swap the two"),
        ('kind = "plumbing"|kind = "pipework"', "circuits.tank.kind", "plumbing"),
        ('drain = ["dry"]|dain = ["dry"]', "circuits.tank.treatments.dain", "'drain'"),
        ('drain = ["dry"]|drain = []', "circuits.tank.treatments.drain", "at least 1"),
        ('material = "plastic"|', "circuits.tank.material", "Add it"),
        ('name = "tank"|name = "tank"\nvolum = "1L"', "circuits.tank.volum", "'volume'"),
        (
            'mark = "estimate", source = "a bucket"|mark = "guess", source = "a bucket"',
            "circuits.tank.volume.mark",
            "estimate",
        ),
        (', source = "a bucket"|', "circuits.tank.volume.source", "Add it"),
    ],
)
def test_a_slip_is_named_with_its_key_and_remedy(tmp_path, change, key, remedy):
    before, after = change.split("|")
    assert before in TANK
    (tmp_path / "tank.toml").write_text(TANK.replace(before, after, 1))
    [told] = faults([tmp_path])
    assert str(tmp_path / "tank.toml") in told
    assert key in told
    assert remedy in told


def test_a_profile_that_extends_nothing_known_is_told_the_nearest(tmp_path):
    (tmp_path / "mine.toml").write_text('extends = "outbord"\nname = "Mine"\n')
    [told] = faults([PROFILES, tmp_path])
    assert "Did you mean 'outboard'?" in told


def test_a_ring_of_profiles_is_cut(tmp_path):
    (tmp_path / "one.toml").write_text('extends = "two"\nname = "One"\n')
    (tmp_path / "two.toml").write_text('extends = "one"\nname = "Two"\n')
    assert any("back to itself: one -> two -> one" in told for told in faults([tmp_path]))


def test_a_dropped_circuit_must_be_there(tmp_path):
    (tmp_path / "mine.toml").write_text('extends = "outboard"\nname = "M"\ndrop = ["gear-case"]\n')
    [told] = faults([PROFILES, tmp_path])
    assert "Did you mean 'gearcase'?" in told


def test_every_broken_file_is_told_not_only_the_first(tmp_path):
    (tmp_path / "a.toml").write_text("name = ")
    (tmp_path / "b.toml").write_text(TANK.replace('"10L"', '"ten"'))
    assert len(faults([tmp_path])) == 2


def test_fittings_join_a_craft_and_may_not_bring_a_circuit_twice():
    joined = composed("outboard", ["washdown"], library())
    assert joined.circuit_ids[-1] == "shower"
    with pytest.raises(ValueError, match="twice"):
        composed("tow-boat", ["ballast"], library())


def test_a_profiles_digest_follows_its_figures_and_those_it_extends_and_no_comment(tmp_path):
    def digests(figure, comment=""):
        (tmp_path / "tank.toml").write_text(comment + TANK.replace('"10L"', figure))
        (tmp_path / "barge.toml").write_text('extends = "tank"\nname = "Barge"\n')
        found = load_profiles([PROFILES, tmp_path])
        return found["tank"].digest, found["barge"].digest, found["outboard"].digest

    plain = digests('"10L"')
    assert digests('"10L"', comment="# as measured\n") == plain
    tank, barge, outboard = digests('"11L"')
    assert tank != plain[0]
    assert barge != plain[1]
    assert outboard == plain[2]


def test_fittings_are_part_of_a_crafts_own_digest():
    fitted = composed("outboard", ["washdown"], library())
    assert fitted.digest != composed("outboard", [], library()).digest


def test_a_profile_names_no_more_than_itself():
    # How many files a new type touches: its own.
    for path in PROFILES.glob("*.toml"):
        content = tomllib.loads(path.read_text())
        assert "id" not in content
