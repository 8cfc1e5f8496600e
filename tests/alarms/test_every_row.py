"""The alarm set beside frost, heat, sweat, batteries and silence: each raised, told and cleared."""

from dataclasses import dataclass, replace
from datetime import timedelta

import pytest

from monitor.alarms.acts.alarm_acts import AlarmActs
from monitor.alarms.definitions import DEFINITIONS
from monitor.yard.alarm import AlarmState, Priority
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.duty import Duty
from monitor.yard.facts import EarlierSentences
from monitor.yard.frost_facts import PastIce
from monitor.yard.message import MessageKind
from monitor.yard.space import Person, Role, Space, SpaceKind
from tests.alarms.scene import FOUR, MECHANIC, OPERATOR, OWNERS, Scene, craft, frost, yard
from tests.written import written

SECOND = Person(
    id="ansel", name="Ansel Rye", mail="ansel@yard.example", roles=frozenset({Role.OPERATOR})
)


def judgement(hazard, standing, space, craft_id="", part="", **more):
    weight = {
        "urgency": Urgency.EXPECTED,
        "severity": Severity.MODERATE,
        "certainty": Certainty.OBSERVED,
    }
    return Assessment(
        subject=Subject(space, craft_id, part),
        hazard=hazard,
        standing=standing,
        at=FOUR,
        **(written("As judged.", "" if standing in QUIET else "As asked.") | weight | more),
    )


def iced(**times):
    facts = EarlierSentences(basis="As judged.", act="As asked.", past_ice=PastIce(**times))
    return {"facts": facts}


QUIET = {Standing.STEADY, Standing.DRY, Standing.HOLDING}
SEVERE = {"severity": Severity.SEVERE, "urgency": Urgency.IMMEDIATE}
MINOR = {"severity": Severity.MINOR}
MIX = iced(as_mix_at=FOUR)
IN_MIX = SEVERE | MIX | {"limit_c": -5.0, "margin_k": -5.0}


@dataclass(frozen=True)
class Row:
    """One cause: what is judged while it holds and once it does not, and what follows."""

    cause: str
    holds: Assessment
    gone: Assessment | None  # None: it is not judged any more
    delay_min: int
    told: set[str]
    off_h: float


ROWS = [
    Row(
        "power-lost",
        judgement(Hazard.POWER, Standing.CUT_OFF, "barn", **SEVERE),
        judgement(Hazard.POWER, Standing.STEADY, "barn"),
        5,
        {"maren"},
        0.25,
    ),
    Row(
        "overcharge",
        judgement(Hazard.CHARGING, Standing.OVERCHARGED, "barn", "K1", "maintainer", **SEVERE),
        None,
        2,
        {"maren"},
        0.5,
    ),
    Row(
        "voided",
        judgement(Hazard.RECORD, Standing.VOIDED, "barn", "K1", "lay-up"),
        None,
        0,
        {"joss", "owner-1"},
        0.0,
    ),
    Row(
        "moved-out",
        judgement(Hazard.RECORD, Standing.OUT_OF_HEAT, "barn", "K1", "lay-up", **SEVERE),
        None,
        0,
        {"maren"},
        0.0,
    ),
    Row(
        "damp",
        judgement(Hazard.DAMP, Standing.DAMP, "barn", **MINOR),
        judgement(Hazard.DAMP, Standing.DRY, "barn"),
        0,
        {"maren"},
        25.0,
    ),
    Row(
        "third-ice",
        judgement(Hazard.FROST, Standing.ICING, "barn", "K1", "head-passages", **IN_MIX),
        judgement(Hazard.FROST, Standing.HOLDING, "barn", "K1", "head-passages", margin_k=6.0),
        30,
        {"maren", "joss", "owner-1"},
        0.5,
    ),
    Row(
        "unreadable",
        judgement(Hazard.RECORD, Standing.UNREADABLE, "barn", "K1", "record", **SEVERE),
        None,
        0,
        {"maren"},
        0.0,
    ),
    Row(
        "file-refused",
        judgement(Hazard.RECORD, Standing.NOT_TAKEN_IN, "barn", "K1", "craft file", **SEVERE),
        None,
        0,
        {"maren"},
        0.0,
    ),
    Row(
        "snow-load",
        judgement(Hazard.RECORD, Standing.SNOWED, "barn", "K1", "snow load"),
        None,
        0,
        {"maren"},
        0.0,
    ),
    Row(
        "cover-torn",
        judgement(Hazard.RECORD, Standing.TORN, "barn", "K1", "cover", **MINOR),
        None,
        0,
        {"joss"},
        0.0,
    ),
    Row(
        "sensors-apart",
        judgement(Hazard.SENSING, Standing.APART, "barn", severity=Severity.MINOR),
        None,
        0,
        {"joss"},
        24.0,
    ),
    Row(
        "sensor-doubted",
        judgement(
            Hazard.SENSING, Standing.DOUBTED, "barn", "", "barn-corner", severity=Severity.MINOR
        ),
        None,
        0,
        {"joss"},
        24.0,
    ),
    Row(
        "sensor-battery-low",
        judgement(
            Hazard.SENSOR_BATTERY, Standing.LOW, "barn", "", "barn-corner", severity=Severity.MINOR
        ),
        None,
        60,
        {"joss"},
        24.0,
    ),
    Row(
        "forecast-old",
        judgement(Hazard.FORECAST, Standing.STALE, "kettlemoss", "", "public forecast", **MINOR),
        judgement(Hazard.FORECAST, Standing.STEADY, "kettlemoss", "", "public forecast"),
        0,
        {"maren"},
        6.0,
    ),
]
BY_CAUSE = {row.cause: row for row in ROWS}
NEVER_MISSED = {"power-lost", "overcharge", "moved-out"}


def scene_with(tmp_path, **changes):
    scene = Scene(tmp_path, replace(yard((OPERATOR, SECOND, MECHANIC, *OWNERS)), **changes))
    scene.craft = {"K1": craft("K1", "Teal", "barn", owner="owner-1")}
    return scene


def causes(scene):
    with scene.store.snapshot() as tx:
        return {alarm.cause: alarm.state for alarm in tx.alarms.open_alarms()}


def judge_for(scene, minutes, *judged, every=1):
    """Rounds over so many minutes, the first of them now."""
    scene.judge(*judged)
    for _ in range(round(minutes / every)):
        scene.after(minutes=every)
        scene.judge(*judged)


@pytest.mark.parametrize("row", ROWS, ids=BY_CAUSE)
def test_each_is_raised_after_its_delay_and_not_before(tmp_path, row):
    scene = scene_with(tmp_path)
    if row.delay_min:
        judge_for(scene, row.delay_min - 1, row.holds)
        assert row.cause not in causes(scene)
        scene.after(minutes=1)
    scene.judge(row.holds)
    assert causes(scene)[row.cause] is AlarmState.UNACKNOWLEDGED


@pytest.mark.parametrize("row", ROWS, ids=BY_CAUSE)
def test_each_is_told_by_day_to_whom_it_concerns_and_to_nobody_else(tmp_path, row):
    # By day, so that nobody's quiet hours hold a letter back; a second operator hears with the
    # first where there is no calendar.
    scene = scene_with(tmp_path)
    scene.after(hours=17)
    # Damp air waits three days for another letter.
    if row.cause == "damp":
        judge_for(scene, 3 * 24 * 60, row.holds, every=120)
    judge_for(scene, max(2 * row.delay_min, 30), row.holds)
    heard = {message.person for message in scene.messages() if message.kind is MessageKind.ALARM}
    assert heard == row.told | ({"ansel"} if "maren" in row.told else set())


@pytest.mark.parametrize("row", ROWS, ids=BY_CAUSE)
def test_each_clears_when_what_it_told_of_is_over_for_long_enough(tmp_path, row):
    scene = scene_with(tmp_path)
    judge_for(scene, row.delay_min, row.holds)
    well = [] if row.gone is None else [row.gone]
    if row.off_h:
        scene.after(minutes=1)
        scene.judge(*well)
        scene.after(hours=row.off_h - 0.1)
        scene.judge(*well)
        assert causes(scene)[row.cause] is AlarmState.UNACKNOWLEDGED
    scene.after(hours=0.2)
    scene.judge(*well)
    assert causes(scene)[row.cause] is AlarmState.RETURNED


@pytest.mark.parametrize("cause", sorted(NEVER_MISSED))
def test_what_must_never_be_missed_goes_on_to_the_next_when_nobody_answers(tmp_path, cause):
    row = BY_CAUSE[cause]
    on_duty = Duty(shifts=(), next_called=("joss",))
    scene = scene_with(tmp_path, duty=on_duty)
    judge_for(scene, row.delay_min + 40, row.holds)
    assert DEFINITIONS[cause].never_missed
    assert DEFINITIONS[cause].priority is Priority.HIGH
    assert "joss" in {message.person for message in scene.messages()}


def test_a_maintainer_whose_voltage_dips_back_within_two_minutes_calls_nobody(tmp_path):
    scene = scene_with(tmp_path)
    holds = BY_CAUSE["overcharge"].holds
    judge_for(scene, 1, holds)
    scene.after(minutes=1)
    scene.judge()
    assert causes(scene) == {}


def test_overcharge_does_not_clear_while_nobody_can_tell(tmp_path):
    scene = scene_with(tmp_path)
    holds = BY_CAUSE["overcharge"].holds
    judge_for(scene, 2, holds)
    silent = replace(holds, standing=Standing.NOT_KNOWN)
    scene.after(hours=3)
    judge_for(scene, 60, silent, every=30)
    assert causes(scene)["overcharge"] is AlarmState.UNACKNOWLEDGED


def test_a_third_of_ice_does_not_clear_while_nobody_can_tell(tmp_path):
    scene = scene_with(tmp_path)
    holds = BY_CAUSE["third-ice"].holds
    judge_for(scene, 30, holds, every=5)
    blind = replace(holds, standing=Standing.NOT_KNOWN, **iced())
    scene.after(hours=3)
    judge_for(scene, 60, blind, every=30)
    assert causes(scene)["third-ice"] is AlarmState.UNACKNOWLEDGED


def test_ice_in_water_and_a_third_of_ice_in_a_mix_are_two_rows(tmp_path):
    scene = scene_with(tmp_path)
    in_mix = BY_CAUSE["third-ice"].holds
    judge_for(scene, 45, in_mix, every=5)
    assert set(causes(scene)) == {"third-ice"}
    in_water = replace(in_mix, **iced())
    other = Scene(tmp_path / "water", scene.yard)
    other.craft = scene.craft
    judge_for(other, 45, in_water, every=5)
    assert set(causes(other)) == {"ice"}


def test_a_mix_that_was_a_third_ice_stays_told_through_thaw_and_silence(tmp_path):
    scene = scene_with(tmp_path)
    in_mix = BY_CAUSE["third-ice"].holds
    judge_for(scene, 45, in_mix, every=5)
    thawed = replace(in_mix, standing=Standing.SUSPECT, margin_k=6.0)
    scene.after(hours=9)
    judge_for(scene, 120, thawed, every=30)
    assert causes(scene) == {"third-ice": AlarmState.UNACKNOWLEDGED}


def test_water_that_freezes_where_a_mix_once_did_is_never_missed(tmp_path):
    scene = scene_with(tmp_path)
    both = iced(as_mix_at=FOUR, as_water_at=FOUR)
    in_water = replace(BY_CAUSE["third-ice"].holds, **both)
    judge_for(scene, 45, in_water, every=5)
    assert set(causes(scene)) == {"ice"}


def test_when_a_space_goes_dark_its_silent_sensors_are_not_told_one_by_one(tmp_path):
    scene = scene_with(tmp_path)
    dark = BY_CAUSE["power-lost"].holds
    judge_for(scene, 6, dark)
    silent = judgement(
        Hazard.SILENCE, Standing.SILENT, "barn", "", "barn-corner", urgency=Urgency.IMMEDIATE
    )
    judge_for(scene, 60, dark, silent, every=5)
    told = [message for message in scene.messages("maren") if message.kind is MessageKind.ALARM]
    assert len(told) == 1
    assert told[0].subject.startswith("Go to Stove Barn, power or gateway lost")


@pytest.mark.parametrize("kind", [SpaceKind.WRAPPED, SpaceKind.OPEN])
def test_damp_for_a_day_is_no_alarm_in_rows_and_racks(tmp_path, kind):
    spaces = (Space(id="barn", name="Stove Barn", kind=kind),)
    scene = scene_with(tmp_path, spaces=spaces)
    judge_for(scene, 60, BY_CAUSE["damp"].holds, every=30)
    assert causes(scene) == {}


def test_what_is_known_of_one_craft_in_one_evening_is_one_letter_a_person(tmp_path):
    """Moved out of the heat, and frost ahead: the operator reads of it once."""
    scene = scene_with(tmp_path)
    osprey = scene.craft["K1"]
    ahead = frost(osprey, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=2))
    out = BY_CAUSE["moved-out"].holds
    void = BY_CAUSE["voided"].holds
    void = replace(void, subject=Subject("barn", "K1", "cover"))
    judge_for(scene, 60, ahead, out, void, every=5)
    by_person = [message.person for message in scene.messages()]
    assert sorted(by_person) == ["ansel", "joss", "maren", "owner-1"]
    (mail,) = scene.messages("maren")
    assert mail.subject == "Move Teal back into the warm by 18:00"
    (mechanics,) = scene.messages("joss")
    assert mechanics.subject.startswith("Lay Teal up again")


def test_frost_after_an_undone_lay_up_is_news_to_its_owner(tmp_path):
    scene = scene_with(tmp_path)
    scene.after(hours=17)  # by day, when an owner is written to
    void = BY_CAUSE["voided"].holds
    judge_for(scene, 30, void, every=10)
    assert len(scene.messages("owner-1")) == 1
    scene.after(days=3)
    ahead = frost(
        scene.craft["K1"], Standing.EXPOSED, FOUR, deadline=scene.clock.now() + timedelta(hours=6)
    )
    judge_for(scene, 30, void, ahead, every=10)
    assert len(scene.messages("owner-1")) == 2


def test_a_mechanic_told_to_lay_a_craft_up_again_reads_in_the_morning_that_it_froze(tmp_path):
    scene = scene_with(tmp_path)
    void = BY_CAUSE["voided"].holds
    judge_for(scene, 30, void, every=10)
    scene.after(hours=12)  # in the night
    ice = replace(frost(scene.craft["K1"], Standing.SOLID, FOUR), calls_for_act=False)
    judge_for(scene, 60, void, ice, every=10)
    assert len(scene.messages("joss")) == 1
    scene.after(hours=3)
    judge_for(scene, 10, void, ice, every=10)
    _, morning = scene.messages("joss")
    assert morning.subject.startswith("Update: Leave Teal alone, ice inside")
    assert "Do not start it." in morning.text


def test_who_took_a_torn_cover_on_is_asked_again_after_a_day(tmp_path):
    scene = scene_with(tmp_path)
    torn = BY_CAUSE["cover-torn"].holds
    scene.judge(torn)
    with scene.store.snapshot() as tx:
        [alarm] = tx.alarms.open_alarms()
    AlarmActs(scene.store, scene.clock).acknowledge(alarm.id, "joss", "tomorrow")
    scene.after(hours=23)
    scene.judge(torn)
    assert causes(scene)["cover-torn"] is AlarmState.ACKNOWLEDGED
    scene.after(hours=2)
    scene.judge(torn)
    assert causes(scene)["cover-torn"] is AlarmState.UNACKNOWLEDGED
