import json
import re

import pytest

from monitor.reports.account import account_json, account_of
from monitor.reports.picture import compose_picture
from tests.reports import kettlemoss as yard_of

# The shape that DEVELOPERS.md promises to other programs.
SPACE = {"space", "air_c", "dew_point_c", "low_c", "low_band_c", "low_at"}
CIRCUIT = {
    "circuit", "standing", "ice_point_c", "burst_point_c", "basis", "margin_k", "first_ice_at",
    "frozen_through_at", "act",
}  # fmt: skip


def account(assessments=None):
    judged = yard_of.assessments() if assessments is None else assessments
    shown = compose_picture(yard_of.yard(), yard_of.craft(), judged, (), yard_of.KETTLEMOSS_NOW)
    return json.loads(account_json(account_of(shown)))


def circuit(found, craft, name):
    one = next(one for one in found["craft"] if one["craft"] == craft)
    return next(c for c in one["circuits"] if c["circuit"] == name)


def test_the_account_has_the_promised_keys():
    found = account()
    assert found.keys() >= {"at", "yard", "spaces", "craft"}
    assert all(one.keys() >= SPACE for one in found["spaces"])
    assert all(
        one.keys() >= {"craft", "space", "circuits", "surfaces", "battery"}
        for one in found["craft"]
    )
    assert all(c.keys() >= CIRCUIT for one in found["craft"] for c in one["circuits"])


def test_every_time_is_rfc_3339_in_utc():
    # RFC 3339, section 5.6, with Z for UTC.
    stamp = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z")
    text = json.dumps(account())
    times = re.findall(r'"(?:at|\w+_at|wet_from)": "([^"]*)"', text)
    assert len(times) > 50
    assert all(stamp.fullmatch(time) for time in times)


def test_times_are_the_same_moment_as_judged():
    assert (
        circuit(account(), "K11", "galley")["first_ice_at"] == "2026-11-15T00:15:00Z"
    )  # 18:15 CST


def test_a_circuit_seen_dry_says_so_because_null_alone_would_mean_not_known():
    dry = circuit(account(), "K6", "gearcase")
    assert (dry["ice_point_c"], dry["margin_k"], dry["cannot_freeze"]) == (None, None, True)


def test_a_circuit_that_was_not_judged_has_null_and_does_not_claim_that_it_cannot_freeze():
    unknown = circuit(account([]), "K1", "cylinders")
    assert (unknown["standing"], unknown["margin_k"], unknown["cannot_freeze"]) == (
        "not known", None, False,
    )  # fmt: skip


@pytest.mark.parametrize("assessments", [None, []])
def test_no_number_is_written_that_json_does_not_have(assessments):
    # RFC 8259 has neither NaN nor Infinity.
    def refuse(name):
        raise AssertionError(name)

    judged = yard_of.assessments() if assessments is None else assessments
    shown = compose_picture(yard_of.yard(), yard_of.craft(), judged, (), yard_of.KETTLEMOSS_NOW)
    json.loads(account_json(account_of(shown)), parse_constant=refuse)


def test_the_low_comes_with_its_band():
    shed = next(one for one in account()["spaces"] if one["space"] == "long-shed")
    assert (shed["low_c"], shed["low_band_c"]) == (-6.3, [-7.4, -5.2])
    assert shed["below_zero_at"] == "2026-11-15T05:28:00Z"  # 23:28 CST
