"""What a person reads: length, hostile names, narrow screens."""

import csv
import io
from dataclasses import replace
from datetime import timedelta

import pytest
from bs4 import BeautifulSoup

from monitor.phrases.names import plain
from monitor.wording import Units, Wording
from monitor.yard.assessment import Standing
from tests.alarms.scene import FOUR, OPERATOR, ZONE, Scene, cold_night, craft, frost, yard
from tests.written import written

HOSTILE = (
    "Teal\r\nBcc: everyone@elsewhere.example",
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "{{ 7 * 7 }}{% raw %}",
    "\N{RIGHT-TO-LEFT OVERRIDE}laeT",
    '=HYPERLINK("http://elsewhere.example")',
    "Teal\x00\x1b[31m",
    "T" * 500,
)


def big_night(scene, count=300):
    """A fleet none of which was laid up."""
    spaces = ("shed", "row", "rack")
    fleet = [craft(f"B{n:03}", f"Boat {n}", spaces[n % 3], parts=3) for n in range(count)]
    scene.craft = {each.id: each for each in fleet}
    return [
        frost(
            each,
            Standing.EXPOSED,
            FOUR,
            part=circuit.id,
            deadline=FOUR + timedelta(hours=2, minutes=n, seconds=k),
        )
        for n, each in enumerate(fleet)
        for k, circuit in enumerate(each.circuits)
    ]


def test_three_hundred_craft_are_one_mail_of_readable_length(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*big_night(scene))
    (mail,) = scene.messages()
    assert len(mail.text.splitlines()) < 220
    assert len(mail.html) < 60_000  # large mail services cut a mail off at about 100 kB
    for shown in range(12):
        assert f"Boat {shown}, " in mail.text
    assert "Boat 12, " not in mail.text
    counted = [int(line.rsplit(": ", 1)[1]) for line in mail.text.splitlines() if ": 9" in line]
    assert sum(counted) == 300 - 12


def test_the_table_attached_to_a_long_mail_holds_every_circuit(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*big_night(scene))
    table = scene.messages()[0].attachments[0]
    rows = list(csv.DictReader(io.StringIO(table.content.decode("utf-8-sig"))))
    assert len(rows) == 900
    assert rows[0]["name"] == "Boat 0"
    assert rows[0]["act before"] == "2026-11-14 18:00 CST"
    assert float(rows[0]["low °C"]) == -12.0


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_stays_a_name(tmp_path, name):
    owner = replace(OPERATOR, name=name)
    the_yard = replace(yard([owner]), name=name)
    scene = Scene(tmp_path, the_yard)
    boat = replace(craft("K1", name, "shed"), berth=name)
    scene.craft = {"K1": boat}
    scene.judge(
        replace(
            frost(boat, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=2)),
            **written(f"{name}: nothing on record.", f"Drain {name}."),
        )
    )
    (mail,) = scene.messages()
    assert "\n" not in mail.subject
    assert "\r" not in mail.subject
    assert len(mail.subject) < 150
    page = BeautifulSoup(mail.html, "html.parser")
    assert not page.find_all(["script", "img", "a", "iframe", "form"])
    for tag in page.find_all(True):
        assert not [attribute for attribute in tag.attrs if attribute.startswith("on")]
    assert not any(line.startswith("Bcc:") for line in mail.text.splitlines())
    for text in (mail.subject, mail.text, mail.html):
        assert not set(text) & {"\x00", "\x1b", "\N{RIGHT-TO-LEFT OVERRIDE}"}
    if "{{" in name:
        assert "{{ 7 * 7 }}" in mail.text


def test_a_formula_in_a_name_is_text_in_the_table(tmp_path):
    scene = Scene(tmp_path)
    judged = big_night(scene, 20)
    scene.craft = {
        key: replace(each, name="=HYPERLINK(1)", berth="@SUM(1)")
        for key, each in scene.craft.items()
    }
    scene.judge(*judged)
    rows = scene.messages()[0].attachments[0].content.decode("utf-8-sig").splitlines()
    assert "'=HYPERLINK(1)" in rows[1]
    assert "'@SUM(1)" in rows[1]


def test_plain_keeps_what_people_are_called():
    for name in ("Zoë O’Brien", "Søren Ærø", "Œuvre № 5", "海鷗", "K-11 (the blue one)"):
        assert plain(name) == name


def test_the_html_fits_a_phone_and_asks_nothing_of_other_hosts(tmp_path, phone):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    (mail,) = scene.messages("maren")
    asked: list[str] = []
    phone.on("request", lambda request: asked.append(request.url))
    phone.set_content(mail.html)
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390
    assert not asked
    small = phone.evaluate(
        "[...document.querySelectorAll('*')].filter(e => e.childElementCount == 0 &&"
        " e.textContent.trim()).map(e => parseFloat(getComputedStyle(e).fontSize))"
        ".filter(size => size < 13)"
    )
    assert small == []


def test_a_long_word_does_not_widen_the_mail(tmp_path, phone):
    scene = Scene(tmp_path)
    boat = craft("K1", "W" * 60, "shed")
    scene.craft = {"K1": boat}
    scene.judge(frost(boat, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=2)))
    phone.set_content(scene.messages()[0].html)
    assert phone.evaluate("document.documentElement.scrollWidth") <= 390


def test_text_stands_out_from_its_ground(tmp_path, desk):
    # WCAG 2.2, 1.4.3: 4.5 to 1 for text of this size; luminance as defined there.
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    desk.set_content(scene.messages("maren")[0].html)
    colours = desk.evaluate(
        "[...new Set([...document.querySelectorAll('body *')].map(e => getComputedStyle(e).color))]"
    )
    for colour in colours:
        red, green, blue = (int(part) for part in colour.strip("rgb()").split(","))
        assert 1.05 / (_luminance(red, green, blue) + 0.05) >= 4.5, colour


def _luminance(*rgb: int) -> float:
    linear = [
        c / 255 / 12.92 if c / 255 <= 0.04045 else ((c / 255 + 0.055) / 1.055) ** 2.4 for c in rgb
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_times_read_right_through_the_night_the_clocks_change():
    # US rules: at 02:00 CDT on 1 November 2026 clocks go back to 01:00 CST.
    evening = FOUR.replace(day=1, hour=0)  # 19:00 CDT on 31 October
    words = Wording(zone=ZONE, units=Units(), now=evening)
    before, after = evening + timedelta(hours=6.5), evening + timedelta(hours=7.5)
    assert words.clock(before) == "01:30 CDT"
    assert words.clock(after) == "01:30 CST"
    assert words.clock(after + timedelta(hours=1)) == "02:30"
    assert words.full_time(before).endswith("01:30 CDT")
    assert words.full_time(after).endswith("01:30 CST")


def entry_in(message):
    (attached,) = [each for each in message.attachments if each.media_type == "text/calendar"]
    return attached.content


def test_the_first_dated_act_is_a_calendar_entry_that_the_all_clear_takes_back(tmp_path):
    # RFC 5545: CRLF, lines of at most 75 octets, one UID, SEQUENCE that rises.
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    for _ in range(40):
        scene.after(hours=1)
        scene.judge(*(replace(e, standing=Standing.HOLDING, margin_k=9.0) for e in judged))
    first, last = (entry_in(message) for message in scene.messages("maren"))
    for content in (first, last):
        assert content.endswith(b"END:VCALENDAR\r\n")
        assert all(len(line) <= 75 for line in content.split(b"\r\n"))
        assert b"\n" not in content.replace(b"\r\n", b"")
    # Osprey's first ice at 18:15 CST.
    assert b"DTEND:20261115T001500Z" in first
    assert b"STATUS:CONFIRMED" in first
    assert b"STATUS:CANCELLED" in last
    assert b"METHOD:CANCEL" in last
    uids = {line for c in (first, last) for line in c.splitlines() if line.startswith(b"UID:")}
    assert len(uids) == 1
    assert b"SEQUENCE:0" in first
    assert b"SEQUENCE:1" in last


def test_owners_get_no_calendar_entry(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    assert scene.messages("owner-1")[0].attachments == ()


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_adds_no_line_to_the_calendar(tmp_path, name):
    scene = Scene(tmp_path, replace(yard(), name=name))
    boat = craft("K1", name, "shed")
    scene.craft = {"K1": boat}
    scene.judge(frost(boat, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=2)))
    names = {
        line.split(b":")[0].split(b";")[0]
        for line in entry_in(scene.messages("maren")[0]).split(b"\r\n")
        if line and not line.startswith(b" ")
    }
    assert names == {
        *(b"BEGIN", b"END", b"VERSION", b"PRODID", b"METHOD", b"UID", b"SEQUENCE", b"DTSTAMP"),
        *(b"DTSTART", b"DTEND", b"SUMMARY", b"STATUS", b"LOCATION"),
        *(b"ACTION", b"DESCRIPTION", b"TRIGGER"),
    }


@pytest.mark.parametrize("owner", ["", "owner-1"])
def test_a_name_with_brackets_of_its_own_stands_whole_in_the_subject(tmp_path, owner):
    scene = Scene(tmp_path)
    boat = craft("K1", "Heron (port slip)", "shed", owner=owner)
    scene.craft = {"K1": boat}
    scene.judge(frost(boat, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=2)))
    for mail in scene.messages():
        assert "Heron (port slip)" in mail.subject
        assert "(K1)" not in mail.subject
