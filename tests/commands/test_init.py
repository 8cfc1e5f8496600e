"""``laidup init`` makes a folder that loads, is its user's alone, and overwrites nothing."""

import os
import pty
import stat
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.cli import main
from monitor.settings.load import CONFIG_VARIABLE, load_settings, shipped_folder
from monitor.settings.new_yard import NewYard, files_of, id_from
from monitor.yard.space import SpaceKind

SAID = {
    "--name": "Mill Lane Storage",
    "--zone": "America/Chicago",
    "--latitude": "44.9",
    "--longitude": "-93.1",
    "--units": "F",
    "--person": "Sam Ostrander",
    "--mail": "sam@yard.example",
    "--space": "Cold shed=cold",
    "--broker-host": "192.0.2.10",
}


def init(folder, **changes) -> int:
    said = SAID | {f"--{key.replace('_', '-')}": value for key, value in changes.items()}
    flags = [f"{flag}={value}" for flag, value in said.items() if value is not None]
    return main(["init", str(folder), *flags])


def test_a_new_yard_loads_as_it_is_and_holds_nothing_that_nobody_said(tmp_path):
    folder = tmp_path / "yard"
    assert init(folder) == 0
    made = load_settings(folder / "yard.toml")
    assert (made.yard.id, made.yard.name) == ("mill-lane-storage", "Mill Lane Storage")
    assert (made.yard.latitude, made.yard.longitude) == (44.9, -93.1)
    assert (made.yard.temperature_unit, made.yard.volume_unit) == ("F", "fl oz")
    assert [(one.id, one.kind) for one in made.yard.spaces] == [("cold-shed", SpaceKind.COLD)]
    assert [one.mail for one in made.yard.people] == ["sam@yard.example"]
    assert made.broker.topics == ("mill-lane-storage/#",)
    # The example's sensors, craft and antifreeze are somebody else's.
    assert (made.yard.sensors, made.yard.shelf, made.craft) == ((), (), ())
    assert made.mail is None
    assert made.store_url == f"sqlite:///{folder / 'data' / 'laidup.db'}"


def test_what_check_finds_missing_is_what_nobody_said_yet(tmp_path, capsys):
    folder = tmp_path / "yard"
    init(folder)
    capsys.readouterr()
    assert main(["check", "--config", str(folder)]) == 1
    said = capsys.readouterr().out
    failed = [line.partition(":")[0] for line in said.splitlines() if ": FAILED" in line]
    assert failed == ["Broker"]
    assert "Mail: none configured: nobody will be told anything." in said


def test_a_mail_server_is_written_with_the_security_of_its_port(tmp_path):
    # RFC 8314: 465 is TLS from the first byte, 587 submission; 25 relays on this machine.
    for port, security in [("", "starttls"), (":465", "tls"), (":587", "starttls")]:
        folder = tmp_path / f"yard{port[1:]}"
        assert init(folder, mail_server=f"mail.yard.example{port}") == 0
        written = tomllib.loads((folder / "yard.toml").read_text(encoding="utf-8"))["mail"]
        assert (written["host"], written["security"]) == ("mail.yard.example", security)
        assert written["sender"] == "watch@yard.example"


def test_all_of_it_is_its_user_s_alone(tmp_path):
    folder = tmp_path / "yard"
    old = os.umask(0)
    try:
        init(folder)
    finally:
        os.umask(old)
    modes = {path: stat.S_IMODE(path.stat().st_mode) for path in [folder, *folder.rglob("*")]}
    assert {path.name: oct(mode) for path, mode in modes.items()} == {
        path.name: oct(0o700 if path.is_dir() else 0o600) for path in modes
    }
    assert {"profiles", "payloads", "data", "secrets"} <= {path.name for path in modes}


def test_nothing_that_is_there_is_overwritten(tmp_path, capsys):
    folder = tmp_path / "yard"
    init(folder)
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    assert init(folder, name="Another") == 2
    assert "nothing is overwritten" in capsys.readouterr().err
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_the_program_s_own_folder_is_no_place_for_a_store(capsys):
    inside = shipped_folder() / "north"
    assert init(inside) == 2
    assert "inside the program" in capsys.readouterr().err
    assert not inside.exists()


def test_a_folder_that_cannot_be_made_leaves_nothing(tmp_path, capsys, monkeypatch):
    real = os.open

    def full(path, flags, *more):
        if Path(path).name == "craft.toml":
            raise OSError(28, "No space left on device", str(path))
        return real(path, flags, *more)

    monkeypatch.setattr(os, "open", full)
    assert init(tmp_path / "yard") == 2
    said = capsys.readouterr().err
    assert "craft.toml: it cannot be made: No space left on device." in said
    assert list(tmp_path.iterdir()) == []


def test_off_a_terminal_every_flag_that_is_missing_is_named_at_once(tmp_path, capsys):
    assert init(tmp_path / "yard", zone=None, broker_host=None) == 2
    said = capsys.readouterr().err
    assert "--zone" in said
    assert "--broker-host" in said
    assert "--mail" not in said.replace("--mail-server", "")
    assert not (tmp_path / "yard").exists()


@pytest.mark.parametrize(
    ("flag", "value", "told"),
    [
        ("zone", "Middle/Earth", "no such time zone"),
        ("latitude", "91", "Write 90.0 or less"),
        ("latitude", "north", "no number"),
        ("units", "K", "Use 'C' or 'F'"),
        ("mail", "sam", "no mail address"),
        (
            "space",
            "Cold \u202edehs=cold",
            "Leave out line breaks and marks that turn the direction",
        ),
        ("name", "Mill \u2067Lane", "marks that turn the direction"),
        ("person", "Sam\u2066", "marks that turn the direction"),
        ("space", "Cold shed", "Kinds: heated, cold, wrapped, open, bench"),
        ("id", "Mill Lane", "no id"),
        ("mail_server", "mail.example:north", "mail_port"),
        ("broker_host", "a b", "no name or address"),
    ],
)
def test_a_value_that_will_not_do_is_named_with_its_remedy(tmp_path, capsys, flag, value, told):
    assert init(tmp_path / "yard", **{flag: value}) == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "yard").exists()


def test_at_a_terminal_it_asks_for_what_is_missing_until_it_will_do(tmp_path):
    folder = tmp_path / "yard"
    ours, theirs = pty.openpty()
    command = [sys.executable, "-m", "monitor", "init", str(folder), "--name=Mill Lane"]
    asked = subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs)
    os.close(theirs)
    answers = ["Nowhere/Else", "America/Chicago", "44.9", "-93.1", "", "Sam", "sam@yard.example"]
    answers += ["", "no host", "192.0.2.10", "mail.yard.example:north", "mail.yard.example", ""]
    os.write(ours, "".join(f"{one}\n" for one in answers).encode())
    said = b""
    try:
        while part := os.read(ours, 65536):
            said += part
    except OSError:
        pass  # the far side has closed: Linux tells it so
    assert asked.wait(timeout=60) == 0, said.decode()
    os.close(ours)
    assert b"no such time zone" in said
    made = load_settings(folder / "yard.toml")
    assert made.yard.spaces == ()  # they are put in at the page
    assert (str(made.yard.zone), made.yard.temperature_unit) == ("America/Chicago", "F")
    assert (made.broker.host, made.broker.tls) == ("127.0.0.1", True)
    assert made.mail.host == "mail.yard.example"


def test_a_broker_and_a_mail_server_that_are_there_are_asked_for_with_their_passwords(
    tmp_path, monkeypatch
):
    answers = iter(["broker.yard.example:8883", "laidup", "mail.yard.example:465", "watch"])
    passwords = iter(["to the broker", "to the mail"])
    monkeypatch.setattr(sys.stdin, "isatty", lambda: True, raising=False)
    monkeypatch.setattr("builtins.input", lambda _: next(answers))
    monkeypatch.setattr("getpass.getpass", lambda _: next(passwords))
    folder = tmp_path / "yard"
    assert init(folder, space=None, broker_host=None) == 0
    made = load_settings(folder / "yard.toml")
    broker, mail = made.broker, made.mail
    assert (broker.host, broker.port, broker.tls, broker.username, broker.password) == (
        "broker.yard.example", 8883, True, "laidup", "to the broker",
    )  # fmt: skip
    assert (mail.host, mail.port, mail.username, mail.password) == (
        "mail.yard.example", 465, "watch", "to the mail",
    )  # fmt: skip
    assert not (folder / "broker").exists()  # nothing is made ready for a broker of one's own
    assert stat.S_IMODE((folder / "secrets" / "mail.password").stat().st_mode) == 0o600


def test_every_command_finds_the_folder_by_flag_variable_or_where_it_stands(
    tmp_path, monkeypatch, capsys
):
    for name in ("flag", "variable", "here"):
        init(tmp_path / name, name=name)
    monkeypatch.chdir(tmp_path / "here")
    monkeypatch.delenv(CONFIG_VARIABLE, raising=False)

    def found(*more) -> str:
        capsys.readouterr()
        main(["check", *more])
        return capsys.readouterr().out.partition(",")[0]

    assert found() == "yard.toml: here"
    monkeypatch.setenv(CONFIG_VARIABLE, str(tmp_path / "variable"))
    assert found().endswith("variable/yard.toml: variable")
    assert found("--config", str(tmp_path / "flag")).endswith("flag/yard.toml: flag")
    assert found("--config", str(tmp_path / "flag" / "yard.toml")).endswith(": flag")


def test_where_there_is_no_yard_s_file_it_is_said_how_to_name_one(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv(CONFIG_VARIABLE, raising=False)
    assert main(["status"]) == 2
    said = capsys.readouterr().err
    assert "no yard's file" in said
    assert all(way in said for way in ("--config", CONFIG_VARIABLE, "laidup init FOLDER"))


def test_the_examples_behind_their_signs_are_those_that_come_along():
    new = NewYard(
        name="a", id="a", timezone="UTC", latitude=0, longitude=0, units="C", person="b",
        mail="b@c.example", spaces=(("d", SpaceKind.COLD),),
    )  # fmt: skip
    text = files_of(new)["craft.toml"].partition("# [[craft]]")
    bare = "\n".join(line.removeprefix("#").removeprefix(" ") for line in
                     (text[1] + text[2]).splitlines())  # fmt: skip
    example = (shipped_folder() / "craft.toml").read_text(encoding="utf-8")
    assert tomllib.loads(bare) == tomllib.loads(example)


# Marks that turn the direction of writing (UAX 9, 2), and breaks of lines and paragraphs.
TURNING = "\u2028\u2029\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
LINE = st.text(
    st.characters(min_codepoint=0x20, exclude_categories=["Cs", "Cc"], exclude_characters=TURNING),
    min_size=1,
)


@settings(max_examples=40, deadline=None)
@given(name=LINE.map(lambda text: text[:200]), person=LINE.map(lambda text: text[:200]))
def test_whatever_a_yard_is_called_its_file_says_just_that(name, person):
    new = NewYard(
        name=name, id=id_from(name), timezone="Europe/Berlin", latitude=-1.5, longitude=9,
        units="C", person=person, mail="a@b.example",
        spaces=((name, SpaceKind.COLD), (name, SpaceKind.HEATED)),
    )  # fmt: skip
    said = tomllib.loads(files_of(new)["yard.toml"])
    assert (said["yard"]["name"], said["people"][0]["name"]) == (name, person)
    assert [space["name"] for space in said["spaces"]] == [name, name]
    assert len({space["id"] for space in said["spaces"]}) == 2


def test_check_warns_of_a_store_that_goes_with_the_program(capsys):
    main(["check", "--config", str(shipped_folder())])
    said = capsys.readouterr().out
    assert "Files: WARNING." in said
    assert "inside the program's own folder" in said
