"""Every slip in the yard's file is told once, with file, key, value and remedy."""

from pathlib import Path

import pytest

from monitor.cli import main
from monitor.errors import ConfigurationError
from monitor.settings.faults import read_toml
from monitor.settings.load import load_settings, shipped_folder

YARD = """
[yard]
id = "mill"
name = "Mill Yard"
timezone = "Europe/Berlin"
latitude = 52.0
longitude = 13.0

[[spaces]]
id = "shed"
name = "Shed"
kind = "cold"

[[sensors]]
name = "urn:dev:ops:mill-corner"
space = "shed"

[[people]]
id = "ines"
name = "Ines Aldaz"
mail = "ines@mill.example"
roles = ["operator"]
"""


@pytest.fixture
def yard(tmp_path: Path):
    def write(old: str = "", new: str = "") -> Path:
        assert old in YARD
        file = tmp_path / "yard.toml"
        file.write_text(YARD.replace(old, new) if old else YARD, encoding="utf-8")
        return file

    return write


@pytest.mark.parametrize("name", ["yard.toml", "demo/yard.toml"])
def test_a_shipped_example_has_no_fault(name):
    settings = load_settings(shipped_folder() / name)
    assert settings.craft
    assert settings.profiles


def test_a_small_yard_needs_no_more_than_spaces_sensors_and_people(yard):
    settings = load_settings(yard())
    assert settings.yard.space("shed").name == "Shed"
    assert settings.broker.port == 1883
    assert settings.mail is None
    assert settings.store_url.endswith("/laidup.db")


@pytest.mark.parametrize(
    ("old", "new", "key", "problem", "remedy"),
    [
        ('space = "shed"', 'space = "shde"', "sensors[1].space", "'shde'", "Did you mean 'shed'?"),
        ("latitude = 52.0", "latitude = 152.0", "yard.latitude", "152.0", "90"),
        ("latitude = 52.0", "lattitude = 52.0", "yard.lattitude", "52.0", "'latitude'"),
        ('"Europe/Berlin"', '"Berlin"', "yard.timezone", "'Berlin'", "Europe/Berlin"),
        ('kind = "cold"', 'kind = "cool"', "spaces[1].kind", "'cool'", "'cold'"),
        ('kind = "cold"', "", "spaces[1].kind", "missing", "Add it"),
        ('"ines@mill.example"', '"ines"', "people[1].mail", "'ines'", "watch@yard.example"),
        ('roles = ["operator"]', 'roles = ["owner"]', "people", "operator", "roles"),
        ('id = "shed"', 'id = "The Shed"', "spaces[1].id", "The Shed", "small letters"),
        ('space = "shed"', 'space = "shed"\nmount = "battery"',
         "sensors[1].craft", "battery", "craft"),
        ('name = "Mill Yard"', 'name = "Mill\\nYard"', "yard.name", "Mill", "line breaks"),
        ('kind = "cold"', 'kind = "cold"\n[[spaces]]\nid = "loft"\nkind = "cold"\n'
         'name = "Lo\\u202eft"',
         "spaces[2].name", "not one plain line", "marks that turn the direction"),
        ("[yard]", '[reports]\nat = "7:00"\n[yard]', "reports.at", "7:00", "like 06:30"),
        ('[yard]', '[folder]\npath = "m"\n[mail]\nhost = "h"\nsender = "a@b.example"\n[yard]',
         "folder", "mails", "Keep"),
        ('[yard]', '[broker]\npassword_env = "LAIDUP_NOT_SET"\n[yard]',
         "broker.password_env", "LAIDUP_NOT_SET", "password_file"),
        ('[yard]', '[broker]\npassword_file = "gone"\n[yard]',
         "broker.password_file", "gone", "password"),
        ('[yard]', '[broker]\ntopics = ["yard/#", "a/#/b"]\n[yard]',
         "broker.topics[2]", "'a/#/b'", "# only last"),
        ('[yard]', '[broker]\ntopics = ["yard+"]\n[yard]', "broker.topics[1]", "yard+", "alone"),
        ('name = "urn:dev:ops:mill-corner"', 'name = "urn:dev:ops:mill-corner:"',
         "sensors[1].name", "mill-corner:", "urn:dev:ops:mill-corner"),
        ('[yard]', '[web]\naccess = "open"\nhost = "0.0.0.0"\n[yard]',
         "web.host", "'0.0.0.0'", "people"),
        ('[yard]', '[web]\naccess = "open"\nhost = "::"\n[yard]', "web.host", "'::'", "127.0.0.1"),
        ('[yard]', '[web]\naccess = "open"\nhost = "yard.example"\n[yard]',
         "web.host", "yard.example", "access"),
        ('[yard]', '[web]\naccess = "all"\n[yard]', "web.access", "all", "open"),
        ('[yard]', '[web]\nproxies = ["yard.example"]\n[yard]',
         "web.proxies", "yard.example", "network"),
    ],
)  # fmt: skip
def test_a_slip_names_its_key_its_value_and_its_remedy(yard, old, new, key, problem, remedy):
    with pytest.raises(ConfigurationError) as caught:
        load_settings(yard(old, new))
    faults = [fault for fault in caught.value.faults if fault.key == key]
    assert len(faults) == 1, caught.value.faults
    assert problem in f"{faults[0].key} {faults[0].problem}"
    assert remedy in faults[0].remedy
    assert Path(faults[0].file).suffix == ".toml"


def test_every_slip_is_told_at_once(yard):
    file = yard()
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace('kind = "cold"', 'kind = "cool"').replace("52.0", '"north"'), encoding="utf-8"
    )
    with pytest.raises(ConfigurationError) as caught:
        load_settings(file)
    assert {fault.key for fault in caught.value.faults} == {"spaces[1].kind", "yard.latitude"}


def test_a_craft_in_no_space_of_the_yard_is_told(yard, tmp_path):
    (tmp_path / "craft.toml").write_text(
        """
[[craft]]
id = "teal"
name = "Teal"
profile = "outboard"
arrived = 2026-10-20T09:00:00
[[craft.stays]]
place = "barn/1"
""",
        encoding="utf-8",
    )
    [fault] = load_settings(
        yard('id = "mill"', 'id = "mill"\ncraft_files = ["craft.toml"]')
    ).craft_faults
    assert fault.file.endswith("craft.toml")
    assert fault.key.startswith("craft[1].stays[1]")
    assert "barn" in fault.problem


@pytest.mark.parametrize(
    ("content", "words"),
    [(b"[yard\n", "not TOML"), (b"\xff\xfe", "UTF-8"), (None, "no yard's file")],
)
def test_an_unreadable_file_stops_the_daemon_with_status_two(tmp_path, capsys, content, words):
    file = tmp_path / "yard.toml"
    if content is not None:
        file.write_bytes(content)
    assert main(["run", "--config", str(file)]) == 2
    said = capsys.readouterr().err
    assert str(file) in said
    assert words in said
    assert len(said.strip().splitlines()) == 1
    assert list(tmp_path.glob("*.db")) == []


def test_passwords_come_from_a_file_or_the_environment(yard, tmp_path):
    (tmp_path / "secret").write_text("hushed\n", encoding="utf-8")
    assert load_settings(
        yard("[yard]", '[broker]\npassword_file = "secret"\n[yard]')
    ).broker.password == ("hushed")
    file = yard("[yard]", '[broker]\npassword_env = "MILL"\n[yard]')
    assert load_settings(file, environment={"MILL": "quiet"}).broker.password == "quiet"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a = " + "[" * 100_000, "its brackets stand inside each other deeper"),
        ("a = " + "9" * 10_000, "it cannot be made sense of"),
    ],
)
def test_toml_without_end_is_one_fault_and_no_trace(tmp_path, text, words):
    file = tmp_path / "yard.toml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(ConfigurationError, match=rf"yard\.toml: {words}"):
        load_settings(file)


def test_the_mark_that_some_editors_put_first_is_no_fault(yard):
    file = yard()
    file.write_text(YARD, encoding="utf-8-sig")
    assert load_settings(file).yard.name == "Mill Yard"


def test_a_store_in_a_folder_that_is_not_there_is_told_by_check(yard, capsys):
    file = yard("[[spaces]]", '[store]\nurl = "sqlite:///nowhere/laidup.db"\n\n[[spaces]]')
    assert main(["check", "--config", str(file)]) == 1
    assert "nowhere; make that folder" in capsys.readouterr().out


@pytest.mark.parametrize("part", ["a", '"a"', "1"])
def test_a_key_of_very_many_parts_is_refused_before_it_is_read(tmp_path, part):
    file = tmp_path / "craft.toml"
    key = ".".join([part] * 60_000)
    for line in (f"{key} = 1", f"[{key}]", f"x = {{ {key} = 1 }}"):
        file.write_text(f'name = "Teal"\n{line}\n', encoding="utf-8")
        with pytest.raises(ConfigurationError, match="a key in line 2 has more than 100 dotted"):
            read_toml(file)


def test_dots_in_words_and_numbers_are_no_parts_of_a_key(tmp_path):
    file = tmp_path / "craft.toml"
    numbers = ", ".join(["1.5"] * 200)
    file.write_text(f'note = "see {"." * 300}"\nmore = [{numbers}]\n', encoding="utf-8")
    assert read_toml(file) == {"note": f"see {'.' * 300}", "more": [1.5] * 200}
