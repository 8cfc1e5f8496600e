"""The calendar entry rings before the work must begin, by the grammar of RFC 5545."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from monitor.yard.assessment import Standing, WorkTurn
from tests.alarms.scene import FOUR, Scene, cold_night, craft, frost

# RFC 5545, section 3.1: a content line is a name, parameters, a colon and a value. A parser of the
# tests' own, after that grammar alone: the library that writes the entry must not check itself.
_CONTENT_LINE = re.compile(
    r"""(?P<name>[A-Za-z0-9-]+)(?P<params>(;[A-Za-z0-9-]+=("[^"]*"|[^";:,]*))*):(?P<value>.*)"""
)


def components(content: bytes):
    """Every component by its path, each a dict of its properties; a wrong nesting fails."""
    text = content.decode()
    assert text.endswith("\r\n")
    unfolded = re.sub(r"\r\n[ \t]", "", text)
    found, path = {}, []
    for line in unfolded.removesuffix("\r\n").split("\r\n"):
        said = _CONTENT_LINE.fullmatch(line)
        assert said is not None, line
        name, value = said["name"].upper(), said["value"]
        if name == "BEGIN":
            path.append(value.upper())
            found.setdefault("/".join(path), []).append({})
        elif name == "END":
            assert path.pop() == value.upper()
        else:
            here = found["/".join(path)][-1]
            assert name not in here, f"{name} may stand once in {path}"
            here[name] = value
    assert path == []
    return found


def moment(value):
    """A date-time in UTC, form 2 of section 3.3.5."""
    return datetime.strptime(value, "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC)


def duration(value):
    """Section 3.3.6, as far as hours, minutes and seconds go."""
    said = re.fullmatch(r"([+-]?)P(?:(\d+)D)?(?:T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)S)?)?", value)
    assert said is not None, value
    days, hours, minutes, seconds = (int(each or 0) for each in said.groups()[1:])
    span = timedelta(days=days, hours=hours, minutes=minutes, seconds=seconds)
    return -span if said[1] == "-" else span


def entry_of(scene, n=0):
    (attached,) = [
        each for each in scene.messages("maren")[n].attachments if each.filename.endswith(".ics")
    ]
    return components(attached.content)


@pytest.mark.parametrize("minutes", [25.0, 90.0])
def test_it_rings_a_quarter_of_an_hour_before_the_job_must_begin(tmp_path, minutes):
    scene = Scene(tmp_path)
    boat = craft("K1", "Teal", "shed")
    scene.craft = {"K1": boat}
    ice_at = FOUR + timedelta(hours=6)
    judged = frost(boat, Standing.EXPOSED, FOUR, deadline=ice_at)
    turn = WorkTurn(order=1, minutes=minutes, done_in_h=minutes / 60.0, too_late=False)
    scene.judge(replace(judged, turn=turn))
    found = entry_of(scene)
    (event,), (ring,) = found["VCALENDAR/VEVENT"], found["VCALENDAR/VEVENT/VALARM"]
    begins = moment(event["DTSTART"])
    assert moment(event["DTEND"]) == ice_at
    assert begins == ice_at - timedelta(minutes=minutes)
    # Section 3.6.6: a DISPLAY alarm has ACTION, DESCRIPTION and TRIGGER, each once; a TRIGGER
    # without RELATED counts from the start (section 3.2.14).
    assert ring == {
        "ACTION": "DISPLAY", "DESCRIPTION": event["SUMMARY"], "TRIGGER": ring["TRIGGER"]
    }  # fmt: skip
    assert begins + duration(ring["TRIGGER"]) == begins - timedelta(minutes=15)


def test_an_entry_taken_back_rings_no_more(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    assert "VCALENDAR/VEVENT/VALARM" in entry_of(scene)
    for _ in range(40):
        scene.after(hours=1)
        scene.judge(*(replace(e, standing=Standing.HOLDING, margin_k=9.0) for e in judged))
    taken_back = entry_of(scene, -1)
    assert taken_back["VCALENDAR/VEVENT"][0]["STATUS"] == "CANCELLED"
    assert "VCALENDAR/VEVENT/VALARM" not in taken_back
