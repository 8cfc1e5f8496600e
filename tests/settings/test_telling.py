"""Who is told, how and when: what the yard's file may say of it, and what is refused in words."""

import base64
from datetime import time, timedelta

import pytest

from monitor.alarms.definitions import DEFINITIONS
from monitor.errors import ConfigurationError
from monitor.settings.load import load_settings
from monitor.yard.alarm import Priority
from monitor.yard.duty import OwnerTelling, Span
from monitor.yard.space import Role

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

[[people]]
id = "ines"
name = "Ines Aldaz"
mail = "ines@mill.example"
roles = ["operator"]
"""
SECRET = "whsec_" + base64.b64encode(bytes(range(32))).decode()


def loaded(folder, more, environment=None):
    file = folder / "yard.toml"
    file.write_text(YARD + more, encoding="utf-8")
    return load_settings(file, environment or {})


def fault(folder, more, environment=None):
    with pytest.raises(ConfigurationError) as caught:
        loaded(folder, more, environment)
    [found] = caught.value.faults
    return found


def test_without_a_word_everybody_gets_mail_at_any_hour_and_the_usual_alarms_hold(tmp_path):
    settings = loaded(tmp_path, "")
    [ines] = settings.yard.people
    assert (ines.channels, ines.quiet, ines.all_well_at, ines.spaces) == (
        ("mail",),
        None,
        None,
        frozenset(),
    )
    assert not settings.yard.duty.has_calendar
    assert settings.definitions == DEFINITIONS
    assert (settings.channels, settings.annunciator, settings.ping) == ({}, None, None)


@pytest.mark.parametrize(("more", "language"), [('language = "de"\n', "de"), ("", "en")])
def test_a_person_chooses_the_language_of_letters_to_an_owner(tmp_path, more, language):
    assert loaded(tmp_path, more).yard.people[0].language == language


def test_a_language_without_letters_is_refused_and_those_with_are_named(tmp_path):
    found = fault(tmp_path, 'language = "fr"\n')
    assert found.key == "people[1].language"
    assert "'fr'" in found.problem
    assert "en, de" in found.remedy


def test_a_person_has_quiet_hours_a_daily_word_spaces_and_channels_of_their_own(tmp_path):
    settings = loaded(
        tmp_path,
        'quiet = { begins = "22:00", ends = "06:30" }\nall_well_at = "08:00"\nspaces = ["shed"]\n'
        'channels = ["mail", "webhook"]\n\n'
        '[webhook]\nurl = "https://hook.example/in"\nsecret_env = "HOOK"\n',
        {"HOOK": SECRET},
    )
    [ines] = settings.yard.people
    assert ines.quiet == Span(begins=time(22), ends=time(6, 30))
    assert ines.all_well_at == time(8)
    assert ines.spaces == {"shed"}
    assert settings.channels["webhook"].url == "https://hook.example/in"
    assert SECRET not in repr(settings)


def test_the_calendar_of_duty_says_who_and_on_which_weekdays(tmp_path):
    settings = loaded(
        tmp_path,
        '[duty]\nnext_called = ["ines"]\n[[duty.shifts]]\nperson = "ines"\n'
        'begins = "18:00"\nends = "06:00"\nweekdays = ["saturday", "sunday"]\n',
    )
    [shift] = settings.yard.duty.shifts
    assert shift.weekdays == {5, 6}
    assert settings.yard.duty.next_called == ("ines",)


def test_a_yard_sets_its_own_delays_priority_and_readers_for_one_cause(tmp_path):
    settings = loaded(
        tmp_path,
        '[alarms.damp]\non_delay_h = 48\nask_again_after_h = 24\npriority = "medium"\n'
        'tells = ["mechanic"]\n[alarms.frost]\nclears_above_k = 4.0\n',
    )
    damp = settings.definitions["damp"]
    assert damp.on_delay == timedelta(hours=48)
    assert damp.realarm == timedelta(hours=24)
    assert damp.priority is Priority.MEDIUM
    assert damp.tells == {Role.MECHANIC}
    assert damp.off_delay == DEFINITIONS["damp"].off_delay
    assert settings.definitions["frost"].clears_above_k == 4.0
    assert settings.definitions["ice"] == DEFINITIONS["ice"]


def test_the_lamp_hangs_on_the_yards_own_broker_with_its_sign_in(tmp_path):
    (tmp_path / "broker.password").write_text("reed\n")
    settings = loaded(
        tmp_path,
        '[broker]\nhost = "10.0.0.2"\nport = 8883\ntls = true\nca_file = "ca.crt"\n'
        'username = "laidup"\npassword_file = "broker.password"\n'
        '[annunciator]\ntopic = "mill/annunciator"\n[ping]\nurl = "https://ping.example/x"\n',
    )
    lamp = settings.annunciator
    assert lamp is not None
    assert (lamp.host, lamp.port, lamp.tls, lamp.password) == ("10.0.0.2", 8883, True, "reed")
    assert lamp.ca_file == tmp_path / "ca.crt"
    assert settings.ping is not None
    assert settings.ping.every_s == 300


@pytest.mark.parametrize(
    ("more", "key", "words"),
    [
        ('spaces = ["shd"]', "people[1].spaces", "Did you mean 'shed'?"),
        ('channels = ["webhook"]', "people[1].channels", "Add [webhook]"),
        ('quiet = { begins = "25:00", ends = "06:00" }', "people[1].quiet.begins", "25:00"),
        ('[duty]\nnext_called = ["inez"]', "duty.next_called", "Did you mean 'ines'?"),
        (
            '[[duty.shifts]]\nperson = "sam"\nbegins = "18:00"\nends = "06:00"',
            "duty.shifts[1].person",
            "Use one of: ines.",
        ),
        ("[alarms.frst]\non_delay_h = 1", "alarms.frst", "Did you mean 'frost'?"),
        ("[alarms.frost]\non_delay_h = 3", "alarms.frost", "must never be missed"),
        ('[alarms.damp]\ntells = ["owner"]', "alarms.damp", "nobody of the yard would be told"),
        ('[webhook]\nurl = "https://hook.example"', "webhook", "no secret"),
        (
            '[webhook]\nurl = "https://hook.example"\nsecret_env = "NONE"',
            "webhook.secret_env",
            "the environment has no NONE",
        ),
        ('[annunciator]\ntopic = "mill/#"', "annunciator.topic", "mill/#"),
        ('[ping]\nurl = "ping.example"', "ping.url", "Write it like https://"),
    ],
)
def test_a_slip_is_told_with_its_place_and_the_remedy(tmp_path, more, key, words):
    found = fault(tmp_path, more)
    assert found.key == key
    assert words in str(found)


def test_a_secret_that_cannot_sign_is_told_without_showing_it(tmp_path):
    found = fault(
        tmp_path, '[webhook]\nurl = "https://hook.example"\nsecret_env = "HOOK"', {"HOOK": "short"}
    )
    assert found.key == "webhook"
    assert "short" not in str(found).replace("too short", "")


def test_hands_stand_under_duty_and_in_each_shift(tmp_path):
    assert loaded(tmp_path, "").yard.duty.hands == 2
    shift = '[[duty.shifts]]\nperson = "ines"\nbegins = "18:00"\nends = "06:00"\nhands = 1\n'
    duty = loaded(tmp_path, f"[duty]\nhands = 3\n{shift}").yard.duty
    assert (duty.hands, duty.shifts[0].hands) == (3, 1)
    assert fault(tmp_path, "[duty]\nhands = 0\n").key == "duty.hands"


def test_a_telephone_number_is_one(tmp_path):
    settings = loaded(tmp_path, 'phone = "+1 715 555 0142"\n')
    assert settings.yard.people[0].phone == "+1 715 555 0142"
    found = fault(tmp_path, 'phone = "ask Vera"\n')
    assert found.key == "people[1].phone"
    assert "no telephone number" in found.problem


def test_what_owners_are_told_and_whom_they_ask_is_the_yards_to_say(tmp_path):
    usual = loaded(tmp_path, "").yard
    assert (usual.telephone, usual.reply_to, usual.owners) == ("", "", OwnerTelling())
    assert not usual.owners.names_staff
    said = YARD.replace(
        "longitude = 13.0",
        'longitude = 13.0\ntelephone = "715-555-0142"\nreply_to = "office@mill.example"',
    )
    file = tmp_path / "yard.toml"
    file.write_text(
        f'{said}\n[owners]\nbegins = "09:00"\nwithout_answer_h = 5\nname_staff = true\n'
        '[mail]\nhost = "127.0.0.1"\nsender = "watch@mill.example"\n',
        encoding="utf-8",
    )
    settings = load_settings(file, {})
    assert (settings.yard.telephone, settings.yard.reply_to) == (
        "715-555-0142", "office@mill.example",
    )  # fmt: skip
    assert settings.mail is not None
    assert settings.mail.reply_to == "office@mill.example"
    assert settings.yard.owners == OwnerTelling(
        hours=Span(begins=time(9), ends=time(20)),
        without_answer=timedelta(hours=5),
        names_staff=True,
    )


TEXT_POST = '[text-post]\nurl = "https://texts.example/send"\nsecret_env = "TEXTS"\nbody = "form"\n'


def test_a_channel_of_texts_stands_in_a_block_of_its_name(tmp_path):
    settings = loaded(
        tmp_path,
        'phone = "715-555-0142"\nchannels = ["mail", "text-post"]\n' + TEXT_POST,
        {"TEXTS": "s3cret-of-texts"},
    )
    [person] = settings.yard.people
    assert person.reached_by == ("mail", "text-post")
    assert person.address_on("text-post") == "715-555-0142"
    assert settings.channels["text-post"].url == "https://texts.example/send"
    assert settings.channels["text-post"].body == "form"
    assert settings.channels["text-post"].secret == "s3cret-of-texts"
    assert "s3cret-of-texts" not in repr(settings)


def test_a_program_that_sends_texts_is_a_list_of_its_path_and_arguments(tmp_path):
    block = '[text-command]\ncommand = ["/usr/local/bin/send-text", "--modem"]\n'
    person = 'phone = "715-555-0142"\nchannels = ["text-command"]\n'
    settings = loaded(tmp_path, person + block, {})
    assert settings.channels["text-command"].command == ("/usr/local/bin/send-text", "--modem")


@pytest.mark.parametrize(
    ("more", "key", "said"),
    [
        ('[text-command]\ncommand = ["send-text"]', "text-command", "whole path"),
        ('[text-command]\ncommand = "/bin/send-text"', "text-command.command", ""),
        ('channels = ["text-post"]\n' + TEXT_POST, "people[1].phone", "no number"),
        ('phone = "715-555-0142"\nchannels = ["text-post"]', "people[1].channels", "there is none"),
        ('channels = ["pigeon"]', "people[1].channels", "no channel"),
        ('[text-mail]\naddress = "555@text.example"', "text-mail", "no gateway"),
        ('[text-post]\nurl = "texts.example"', "text-post.url", "no web address"),
        ('[text-post]\nurl = "https://texts.example"\nbody = "xml"', "text-post.body", ""),
        ('[text-post]\nurl = "https://texts.example"\nurll = "x"', "text-post.urll", "no such key"),
        (TEXT_POST.replace("TEXTS", "NONE"), "text-post.secret_env", "has no NONE"),
    ],
)
def test_what_is_wrong_with_a_channel_of_texts_is_named(tmp_path, more, key, said):
    found = fault(tmp_path, more, {"TEXTS": "s3cret-of-texts"})
    assert found.key == key
    assert said in found.problem
