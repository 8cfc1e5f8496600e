"""What is wrong with one craft of a file is told with its place, and stops nothing beside it."""

import logging

import pytest

from monitor.clock import SystemClock
from monitor.daemon.opening import open_store, take_in_craft
from monitor.settings.craft_file import read_craft
from monitor.settings.load import load_settings
from tests.commands.yard_files import copied_yard, fill, laidup
from tests.craft.scene import library, yard

TWO = """\
# Of this winter.
[[craft]]
id = "k1"
name = "Teal"
profile = "pwc-two-stroke"
arrived = 2026-10-24T10:00:00
note = \"\"\"
name = "no key, but a line of this note"
\"\"\"
[[craft.stays]]
place = "long-shed/1"

[[craft]]
id = "k2"
name = "Plover"
profile = "pwc-two-stroke"
arrived = 2026-10-24T10:00:00
[[craft.stays]]
place = "long-shed/2"
[[craft.layup]]
at = 2026-10-27T10:00:00
by = "Ines Aldaz"
act = "drained"
circuits = ["water-box"]
"""
# What a person may type, the key that it is told under, and the line, counted by hand in TWO.
SLIPS = [
    ('"Plover"', r'"Plo\u0007ver"', "craft[2].name", 15),
    ('"Plover"', r'"Plo\u202ever"', "craft[2].name", 15),
    ('"Teal"', r'"Te\u2028al"', "craft[1].name", 4),
    ('"long-shed/2"', '"long-shad/2"', "craft[2].stays[1].place", 19),
    ('"drained"', '"drain"', "craft[2].layup[1].act", 23),
    ('by = "Ines Aldaz"\n', "", "craft[2].layup[1].by", 20),  # no line of its own: of its table
]


def read(tmp_path, text, **more):
    file = tmp_path / "winter.toml"
    file.write_text(text, encoding="utf-8")
    return read_craft(file, yard(), library(), **more)


@pytest.mark.parametrize(("right", "wrong", "key", "line"), SLIPS)
def test_a_slip_is_told_with_its_line_and_leaves_the_other_craft_alone(
    tmp_path, right, wrong, key, line
):
    assert TWO.count(right) == 1
    records, [fault] = read(tmp_path, TWO.replace(right, wrong))
    at_fault = "k1" if "craft[1]" in key else "k2"
    assert [one.craft.id for one in records] == [{"k1": "k2", "k2": "k1"}[at_fault]]
    assert (fault.key, fault.line, fault.craft) == (key, line, at_fault)
    assert str(fault).startswith(f"{tmp_path / 'winter.toml'}, line {line}: {key}: ")
    assert fault.remedy


@pytest.mark.parametrize(("right", "wrong", "key", "line"), SLIPS)
@pytest.mark.parametrize("named", ["k2", "PLOVER"])
def test_a_question_about_one_craft_hears_of_its_own_faults_alone(
    tmp_path, right, wrong, key, line, named
):
    records, faults = read(tmp_path, TWO.replace(right, wrong), named=[named])
    if "craft[2]" in key:
        assert (records, [(one.key, one.line) for one in faults]) == ((), [(key, line)])
    else:
        assert ([one.craft.id for one in records], faults) == (["k2"], [])


@pytest.mark.parametrize("sign", ["\x07", "\x00", "\x1f", "\x7f"])
def test_a_sign_that_toml_itself_refuses_is_told_with_line_and_key(tmp_path, sign):
    # TOML 1.0: control characters other than tab are not permitted in a basic string.
    records, [fault] = read(tmp_path, TWO.replace("Plover", f"Plo{sign}ver"))
    assert records == ()
    assert "line 15" in fault.problem
    assert fault.remedy == "Correct name on that line."


@pytest.fixture
def spoilt(tmp_path):
    """The demo's yard with its winter on record, and then a slip in its craft file."""
    config = copied_yard(tmp_path)
    fill(config)
    file = tmp_path / "craft.toml"
    text = file.read_text(encoding="utf-8")
    before = '\nname = "Teal"\n'
    assert text.count(before) == 1
    file.write_text(text.replace(before, '\nname = "Te\\u0007al"\n'), encoding="utf-8")
    return config


def test_a_spoilt_craft_stops_no_daemon_and_is_told_to_the_operator(spoilt, caplog):
    settings = load_settings(spoilt)
    [fault] = settings.craft_faults
    assert len(settings.craft) == 11
    store = open_store(settings.store_url, settings.yard.id)
    with caplog.at_level(logging.ERROR):
        refused = take_in_craft(settings, store, SystemClock())
    with store.snapshot() as tx:
        assert len(tx.layup.all_craft()) == 12  # as they were
    store.close()
    # By this the round of alarms raises "file-refused" (tests/commands/test_broken_record.py).
    assert refused == {fault.craft: str(fault)}
    assert [one.getMessage() for one in caplog.records] == [
        f"Not taken in, and as it was before: {fault}"
    ]


@pytest.mark.parametrize("content", [b"[[craft]\n", b"\xff", b"[[craft]]\nname = 'a\x07b'\n", None])
def test_a_file_that_cannot_be_read_at_all_stops_no_daemon(tmp_path, content):
    config = copied_yard(tmp_path)
    fill(config)
    file = tmp_path / "craft.toml"
    file.unlink()
    if content is not None:
        file.write_bytes(content)
    settings = load_settings(config)
    store = open_store(settings.store_url, settings.yard.id)
    refused = take_in_craft(settings, store, SystemClock())
    store.close()
    assert list(refused) == ["craft.toml"]
    assert str(file) in refused["craft.toml"]


QUESTIONS = [
    ("assess",),
    ("alarms", "list"),
    ("layup", "list"),
    ("layup", "protection"),
    ("layup", "plan"),
    ("status",),
    ("export", "record", "--out", "-"),
]


@pytest.mark.parametrize("question", QUESTIONS, ids=lambda one: " ".join(one[:2]))
def test_a_question_answers_by_the_store_and_says_what_is_not_in_it(spoilt, capsys, question):
    assert laidup(*question, "--config", str(spoilt)) in (0, 1)  # 1: something is not well
    told = capsys.readouterr()
    assert told.out
    assert "Not taken in, and as it was before: " in told.err
    assert "craft.toml, line " in told.err


def test_a_question_about_another_craft_says_nothing_of_it(spoilt, capsys):
    assert laidup("layup", "protection", "k2", "--config", str(spoilt)) == 0
    assert capsys.readouterr().err == ""
    [fault] = load_settings(spoilt).craft_faults
    assert laidup("layup", "protection", fault.craft, "--config", str(spoilt)) == 0
    assert str(fault) in capsys.readouterr().err


@pytest.mark.parametrize("command", [("backup",), ("verify",), ("migrate",), ("rollups",)])
def test_what_needs_no_craft_file_is_not_stopped(spoilt, capsys, command):
    more = (str(spoilt.parent / "copy.db"),) if command == ("backup",) else ()
    assert laidup(*command, *more, "--config", str(spoilt)) == 0, capsys.readouterr().err


def test_check_and_import_still_refuse_it(spoilt, capsys):
    # What tries a file before it is used, and what takes it in whole, must not pass it over.
    assert laidup("check", "--config", str(spoilt)) == 2
    assert "craft.toml, line " in capsys.readouterr().err
    file = str(spoilt.parent / "craft.toml")
    assert laidup("import", "craft", file, "--config", str(spoilt)) == 2
    assert "craft.toml, line " in capsys.readouterr().err


def test_the_yards_own_file_still_stops_what_runs_by_it(spoilt, capsys):
    # Without it nobody knows which broker to hear, or whom to tell.
    text = spoilt.read_text(encoding="utf-8")
    spoilt.write_text(text.replace("[yard]", "[yard]\nlatitud = 3", 1), encoding="utf-8")
    assert laidup("run", "--config", str(spoilt)) == 2
    assert "yard.latitud" in capsys.readouterr().err
