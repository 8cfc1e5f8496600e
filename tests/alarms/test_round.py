"""From judgements to messages through a real store: once, to the right person, in time."""

from dataclasses import replace
from datetime import timedelta

import pytest

from monitor.clock import ReadingsClock
from monitor.errors import ActError
from monitor.phrases.alarm_lines import headline_text
from monitor.yard.alarm import AlarmState
from monitor.yard.assessment import (
    Assessment,
    Certainty,
    Hazard,
    Severity,
    Standing,
    Subject,
    Urgency,
)
from monitor.yard.facts import SilenceFacts
from monitor.yard.message import MessageKind
from monitor.yard.readers import words_for
from monitor.yard.reading import Channel
from monitor.yard.space import Sensor
from tests.alarms.scene import (
    FOUR,
    MECHANIC,
    OPERATOR,
    ZONE,
    Scene,
    cold_night,
    craft,
    frost,
    heat,
    judge_lost_heat,
    yard,
)
from tests.written import written

pytestmark = pytest.mark.usefixtures("scenes_on_both")


def kinds(scene, person):
    return [message.kind for message in scene.messages(person)]


def iced(judged, *craft_ids):
    """The same judgements, with ice in some craft."""
    return [
        replace(each, standing=Standing.ICING) if each.subject.craft in craft_ids else each
        for each in judged
    ]


def test_a_cold_night_over_twelve_craft_is_one_mail_a_person(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    for _ in range(12):
        scene.judge(*judged)
        scene.after(minutes=1)
    told = [message.person for message in scene.messages()]
    assert sorted(told) == ["maren", "owner-1", "owner-2"]


def test_the_mail_lists_who_freezes_first_with_hour_place_act_and_care(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    (mail,) = scene.messages("maren")
    names = ["Osprey", "Bittern", "Pintail", "Dipper", "Killdeer", "Grebe", "Plover", "Heron"]
    places = [mail.text.index(name) for name in names]
    assert places == sorted(places)
    for quiet in ("Teal", "Sora", "Coot", "Loon"):
        assert quiet not in mail.text
    assert "18:15" in mail.subject
    text = " ".join(mail.text.split())
    assert (
        "18:15 Osprey, Lee Rack rack-K11 Head passages, water box: Drain the passages bow up"
        in text
    )
    assert text.count("Catch what runs out: poison.") == 1, "a caution stands once, beside its act"
    assert "not a life-safety device" in text


def test_an_owner_hears_of_own_craft_only(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    (mail,) = scene.messages("owner-2")
    for part in (mail.subject, mail.text, mail.html):
        assert "Plover" in part
        assert "Osprey" not in part
    assert not scene.messages("owner-3"), "Teal is safe: its owner has nothing to hear"
    assert not scene.messages("joss"), "frost is no mechanic's alarm"


def test_a_new_craft_joins_the_same_thread_no_sooner_than_half_an_hour_later(tmp_path):
    scene = Scene(tmp_path)
    first, *others = cold_night(scene)
    scene.judge(first)
    scene.after(minutes=5)
    scene.judge(first, *others)
    assert kinds(scene, "maren") == [MessageKind.ALARM]
    scene.after(minutes=25)
    scene.judge(first, *others)
    assert kinds(scene, "maren") == [MessageKind.ALARM, MessageKind.UPDATE]
    one, two = scene.messages("maren")
    assert one.thread == two.thread


def test_a_night_in_which_craft_after_craft_ices_stays_at_a_handful_of_mails(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    for _ in range(17 * 12):
        now = scene.clock.now()
        late = [e.subject.craft for e in judged if e.deadline and e.deadline <= now]
        scene.judge(*iced(judged, *late))
        scene.after(minutes=5)
    assert 2 <= len(kinds(scene, "maren")) <= 4
    assert len(kinds(scene, "owner-1")) == 2, "the warning, and that there is ice in it"


def test_a_craft_that_can_still_be_saved_does_not_wait_for_the_batch(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    late = [each for each in judged if each.subject.craft == "K8"]  # first ice 06:48
    others = [each for each in judged if each.subject.craft != "K8"]
    for _ in range(12):  # by two in the morning the thread has said much
        scene.judge(*iced(others, *(each.subject.craft for each in others[: scene_hour(scene)])))
        scene.after(minutes=50)
    before = len(scene.messages("maren"))
    for _ in range(7):
        scene.judge(*others, *late)
        scene.after(minutes=5)
    (mail,) = scene.messages("maren")[before:]
    assert "Heron" in mail.subject


def scene_hour(scene):
    return int((scene.clock.now() - FOUR) / timedelta(hours=1))


def test_ice_is_told_apart_from_what_can_still_be_saved(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    scene.after(hours=3)
    scene.judge(*iced(judged, "K11"))
    scene.after(hours=8)  # three in the morning: nobody is woken for what has to wait till it thaws
    scene.judge(*iced(judged, "K11"))
    assert kinds(scene, "maren") == [MessageKind.ALARM]
    scene.after(hours=3)
    scene.judge(*iced(judged, "K11"))
    mail = scene.messages("maren")[-1]
    assert mail.kind is MessageKind.UPDATE
    assert "Osprey" not in mail.text[: mail.text.index("LEAVE ALONE, ICE INSIDE")]
    assert "Do not start it." in mail.text


def test_ice_that_nobody_was_warned_of_is_told_at_any_hour(tmp_path):
    scene = Scene(tmp_path)
    boat = craft("K1", "Teal", "shed")
    scene.craft = {"K1": boat}
    scene.after(hours=9)
    for _ in range(2):
        scene.judge(frost(boat, Standing.ICING, scene.clock.now()))
        scene.after(minutes=16)
    assert kinds(scene, "maren") == [MessageKind.ALARM]


def test_frost_that_lost_heat_brings_is_told_with_the_heat_as_one_message(tmp_path):
    scene = Scene(tmp_path)
    boat = craft("K1", "Teal", "barn", owner="owner-1")
    scene.craft = {"K1": boat}
    ice_at = FOUR + timedelta(hours=9)
    judge_lost_heat(scene, boat, ice_at, rounds=9)
    (mail,) = scene.messages("maren")
    assert mail.subject == "Get the heat back in Stove Barn by 01:00"
    assert "FREEZE THERE IF THE HEAT STAYS AWAY\nTeal by 01:00" in mail.text
    assert [each.subject for each in scene.messages("owner-1")] == [
        "Teal is not safe from frost; the yard has been told"
    ]


def test_what_goes_along_with_a_graver_letter_shows_what_is_new_and_counts_the_rest(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    scene.after(hours=10)
    ice = iced(judged, "K11")
    for n in range(6):
        now = scene.clock.now()
        lost = [heat(Standing.FALLING, now, now + timedelta(hours=4))] if n > 2 else []
        scene.judge(*ice, *lost)
        scene.after(minutes=10)
    _, mail = scene.messages("maren")
    assert mail.subject.startswith("Get the heat back in Stove Barn")
    block, _, told_before = mail.text.partition("AS TOLD BEFORE")
    assert block.index("Stove Barn") < block.index("Osprey")
    assert "Bittern" not in block
    assert "Heron by 06:48" in " ".join(told_before.split())
    thread = mail.thread
    answered = scene.acknowledge_thread(thread, "maren")
    assert {"heat-loss", "frost", "ice"} == {alarm.cause for alarm in answered}


@pytest.mark.parametrize(("hours", "within"), [(9, 35), (2, 0)])
def test_frost_in_a_heated_space_whose_heat_is_not_lost_is_told_by_itself(tmp_path, hours, within):
    scene = Scene(tmp_path)
    boat = craft("K1", "Teal", "barn")
    scene.craft = {"K1": boat}
    for _ in range(9):
        now = scene.clock.now()
        scene.judge(frost(boat, Standing.EXPOSED, now, deadline=FOUR + timedelta(hours=hours)))
        scene.after(minutes=5)
    (mail,) = scene.messages("maren")
    assert mail.created_at - FOUR <= timedelta(minutes=within)


def test_a_craft_carried_in_since_its_heat_was_told_lost_is_told_before_its_ice(tmp_path):
    # The letter of the heat could not name it, and gave the hour of the other.
    scene = Scene(tmp_path)
    teal, sora = craft("K1", "Teal", "barn"), craft("K3", "Sora", "barn")
    scene.craft = {"K1": teal, "K3": sora}
    carried_in, ice = FOUR + timedelta(hours=3), FOUR + timedelta(hours=7)
    for _ in range(28):
        now = scene.clock.now()
        lost = replace(
            heat(Standing.FALLING, now, FOUR + timedelta(hours=14)), urgency=Urgency.IMMEDIATE
        )
        judged = [lost, frost(teal, Standing.EXPOSED, now, deadline=FOUR + timedelta(hours=14))]
        if now >= carried_in:
            judged.append(frost(sora, Standing.EXPOSED, now, deadline=ice))
        scene.judge(*judged)
        scene.after(minutes=15)
    first, *later = scene.messages("maren")
    assert "Sora" not in first.text
    (letter,) = later
    assert "Sora" in letter.text
    assert letter.created_at <= ice - timedelta(hours=2)


def test_one_of_two_sensors_that_falls_silent_in_the_cold_wakes_nobody(tmp_path):
    twin = Sensor(name="shed-centre", space="shed")
    base = yard()
    scene = Scene(tmp_path, replace(base, sensors=(*base.sensors, twin)))
    scene.craft = {"K1": craft("K1", "Teal", "shed")}

    def sensor(name, standing, urgency):
        return Assessment(
            subject=Subject("shed", "", name),
            hazard=Hazard.SILENCE,
            standing=standing,
            at=scene.clock.now(),
            **written(f"{name} was last heard at 16:00."),
            urgency=urgency,
            severity=Severity.MODERATE,
            certainty=Certainty.OBSERVED,
        )

    for _ in range(12):
        scene.judge(
            sensor("shed-corner", Standing.SILENT, Urgency.IMMEDIATE),
            sensor("shed-centre", Standing.STEADY, Urgency.FUTURE),
        )
        scene.after(minutes=5)
    assert scene.messages() == []
    for _ in range(6):  # and then the other: now nobody can tell
        scene.judge(
            sensor("shed-corner", Standing.SILENT, Urgency.IMMEDIATE),
            sensor("shed-centre", Standing.SILENT, Urgency.IMMEDIATE),
        )
        scene.after(minutes=5)
    assert kinds(scene, "maren") == [MessageKind.ALARM]


@pytest.mark.parametrize("air", [Standing.STEADY, Standing.NOT_KNOWN])
def test_a_sensor_that_falls_silent_beside_one_that_is_stuck_is_told_in_the_night(tmp_path, air):
    twin = Sensor(name="shed-centre", space="shed")
    base = yard()
    scene = Scene(tmp_path, replace(base, sensors=(*base.sensors, twin)))
    scene.craft = {"K1": craft("K1", "Teal", "shed")}
    scene.after(hours=6)  # ten in the evening
    for _ in range(12):
        now = scene.clock.now()
        quiet = replace(
            heat(air, now),
            hazard=Hazard.SILENCE,
            subject=Subject("shed", "", "shed-corner"),
            standing=Standing.SILENT,
            urgency=Urgency.IMMEDIATE,
        )
        heard = replace(quiet, subject=Subject("shed", "", "shed-centre"), standing=Standing.STEADY)
        scene.judge(quiet, heard, replace(heat(air, now), subject=Subject("shed")))
        scene.after(minutes=5)
    told = [MessageKind.ALARM] if air is Standing.NOT_KNOWN else []
    assert kinds(scene, "maren") == told


def test_a_sensor_that_has_lost_its_humidity_alone_is_still_heard_beside_one_that_is_silent(
    tmp_path,
):
    twin = Sensor(name="shed-centre", space="shed")
    base = yard()
    scene = Scene(tmp_path, replace(base, sensors=(*base.sensors, twin)))
    scene.craft = {"K1": craft("K1", "Teal", "shed")}
    facts = SilenceFacts(mount=twin.mount, channel=Channel.HUMIDITY)
    scene.after(hours=6)
    for _ in range(12):
        quiet = replace(
            heat(Standing.STEADY, scene.clock.now()),
            hazard=Hazard.SILENCE,
            standing=Standing.SILENT,
            subject=Subject("shed", "", "shed-corner"),
            urgency=Urgency.IMMEDIATE,
        )
        damp = Subject("shed", "", "shed-centre")
        scene.judge(quiet, replace(quiet, subject=damp, facts=facts, urgency=Urgency.EXPECTED))
        scene.after(minutes=5)
    assert scene.messages("maren") == []


def test_what_ranks_low_wakes_nobody_and_is_told_at_six(tmp_path):
    scene = Scene(tmp_path)
    scene.craft = {"K1": craft("K1", "Teal", "shed")}
    scene.after(hours=6)  # ten in the evening
    for _ in range(20):
        scene.judge(
            Assessment(
                subject=Subject("shed", "", "shed-corner"),
                hazard=Hazard.SILENCE,
                standing=Standing.SILENT,
                at=scene.clock.now(),
                **written("shed-corner was last heard at 21:30."),
                urgency=Urgency.EXPECTED,
                severity=Severity.MINOR,
                certainty=Certainty.OBSERVED,
            )
        )
        scene.after(minutes=30)
    (mail,) = scene.messages("joss")
    assert mail.created_at.astimezone(ZONE).strftime("%H:%M") == "06:00"


def test_all_clear_waits_for_the_morning(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    warm = [replace(each, standing=Standing.HOLDING, margin_k=8.0) for each in judged]
    for _ in range(50 * 2):
        scene.after(minutes=30)
        scene.judge(*warm)
    clear = scene.messages("maren")[-1]
    assert clear.kind is MessageKind.ALL_CLEAR
    local = clear.created_at.astimezone(ZONE)
    assert 6 <= local.hour < 21


def test_ice_takes_over_from_frost_as_one_alarm_that_asks(tmp_path):
    scene = Scene(tmp_path)
    boat = craft("K1", "Teal", "shed")
    scene.craft = {"K1": boat}
    exposed = frost(boat, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=1))
    scene.judge(exposed)
    scene.after(hours=1)
    for _ in range(3):
        scene.judge(replace(exposed, standing=Standing.ICING))
        scene.after(minutes=16)
    with scene.store.snapshot() as tx:
        states = {alarm.cause: alarm.state for alarm in tx.alarms.open_alarms()}
    assert states == {"frost": AlarmState.SUPPRESSED, "ice": AlarmState.UNACKNOWLEDGED}


def test_all_clear_closes_the_thread_once(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    warm = [replace(each, standing=Standing.HOLDING, margin_k=8.0) for each in judged]
    for _ in range(80):
        scene.after(minutes=30)
        scene.judge(*warm)
    assert kinds(scene, "maren") == [MessageKind.ALARM, MessageKind.ALL_CLEAR]
    assert kinds(scene, "owner-1") == [MessageKind.ALARM, MessageKind.ALL_CLEAR]
    assert scene.messages("maren")[-1].thread == scene.messages("maren")[0].thread
    assert "Osprey" not in scene.messages("owner-2")[-1].text


def test_the_next_cold_spell_is_told_anew(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    warm = [replace(each, standing=Standing.HOLDING, margin_k=8.0) for each in judged]
    scene.judge(*judged)
    for _ in range(40):
        scene.after(hours=1)
        scene.judge(*warm)
    scene.after(days=3)
    scene.judge(*judged)
    first, _, second = scene.messages("maren")
    assert second.kind is MessageKind.ALARM
    assert second.thread != first.thread


def test_a_second_spell_is_told_although_one_craft_still_waits_to_be_inspected(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    suspect = [
        replace(
            each,
            standing=Standing.SUSPECT if each.subject.craft == "K11" else Standing.HOLDING,
            margin_k=8.0,
        )
        for each in judged
    ]
    scene.judge(*iced(judged, "K11"))
    for _ in range(60):
        scene.after(hours=1)
        scene.judge(*suspect)
    before = len(scene.messages("maren"))
    again = [
        each if each.subject.craft != "K11" else s for each, s in zip(judged, suspect, strict=True)
    ]
    scene.judge(*again)
    update = scene.messages("maren")[before:]
    assert [message.kind for message in update] == [MessageKind.UPDATE]
    assert "Bittern" in update[0].subject


def test_a_restart_tells_nobody_twice(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    scene.reopen()
    scene.after(minutes=1)
    scene.judge(*judged)
    assert len(scene.messages()) == 3


def test_an_on_delay_outlives_a_restart(tmp_path):
    scene = Scene(tmp_path)
    boat = craft("K1", "Teal", "shed")
    scene.craft = {"K1": boat}
    icing = frost(boat, Standing.ICING, FOUR)
    scene.judge(icing)
    scene.after(minutes=10)
    scene.reopen()
    scene.judge(icing)
    scene.after(minutes=6)
    assert scene.judge(icing).raised == 1


def test_acknowledging_a_thread_answers_everything_it_told_of(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    thread = scene.messages("maren")[0].thread
    answered = scene.acknowledge_thread(thread, "maren")
    assert len(answered) == 16
    with scene.store.snapshot() as tx:
        assert {alarm.state for alarm in tx.alarms.open_alarms()} == {AlarmState.ACKNOWLEDGED}
        assert tx.alarms.history_of(answered[0].id)[-1].by == "maren"


def test_what_a_person_does_while_a_round_is_worked_out_is_not_overwritten(tmp_path, monkeypatch):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    thread = scene.messages("maren")[0].thread
    compose = scene.round._composed
    acted = []

    def composed(draft):
        if not acted:
            acted.extend(scene.acknowledge_thread(thread, "maren"))
        return compose(draft)

    monkeypatch.setattr(scene.round, "_composed", composed)
    scene.after(minutes=31)
    scene.judge(*iced(judged, "K11"))
    with scene.store.snapshot() as tx:
        states = {alarm.id: alarm.state for alarm in tx.alarms.open_alarms()}
    assert {states[alarm.id] for alarm in acted} == {AlarmState.ACKNOWLEDGED}


def test_an_owner_cannot_acknowledge_what_the_yard_must_act_on(tmp_path):
    scene = Scene(tmp_path)
    scene.judge(*cold_night(scene))
    thread = scene.messages("owner-2")[0].thread
    with pytest.raises(ActError, match="yard's own people"):
        scene.acknowledge_thread(thread, "owner-2")


def test_a_craft_whose_circuits_ice_freeze_through_and_thaw_is_told_of_ice_once(tmp_path):
    scene = Scene(tmp_path)
    boat = craft("K1", "Teal", "shed", owner="owner-1", parts=6)
    scene.craft = {"K1": boat}
    stages = ("exposed", "icing", "solid", "icing", "suspect", "icing", "solid", "suspect")
    for hour in range(6 * len(stages)):
        scene.judge(
            *(
                frost(boat, Standing(stages[max(hour - n, 0) // 6]), FOUR, part=circuit.id)
                for n, circuit in enumerate(boat.circuits)
            )
        )
        scene.after(hours=1)
    for person in ("maren", "owner-1"):
        assert kinds(scene, person) == [MessageKind.ALARM, MessageKind.UPDATE]


def test_a_craft_that_is_no_longer_stored_leaves_no_alarm(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    scene.craft = {key: each for key, each in scene.craft.items() if key != "K11"}
    for _ in range(2):
        scene.after(minutes=1)
        scene.judge(*(each for each in judged if each.subject.craft != "K11"))
    with scene.store.snapshot() as tx:
        assert "K11" not in {alarm.craft for alarm in tx.alarms.open_alarms()}
    assert MessageKind.ALL_CLEAR in kinds(scene, "owner-1")


def test_where_nobody_is_a_mechanic_the_operator_hears_what_a_mechanic_would(tmp_path):
    scene = Scene(tmp_path, yard([OPERATOR]))
    boat = craft("K1", "Teal", "shed")
    scene.craft = {"K1": boat}
    battery = Assessment(
        subject=Subject("shed", "K1", "battery"),
        hazard=Hazard.BATTERY,
        standing=Standing.FREEZING,
        at=FOUR,
        **written(
            "Rested at 11.9 V: empty, its electrolyte freezes at -10.7 °C.",
            "Lift it out before dark.",
        ),
        now_c=-2.0,
        low_c=-12.0,
        limit_c=-10.7,
        margin_k=-1.3,
        urgency=Urgency.EXPECTED,
        severity=Severity.SEVERE,
    )
    scene.judge(battery)
    scene.after(minutes=31)
    scene.judge(battery)
    (mail,) = scene.messages()
    assert mail.person == "maren"
    assert "Lift it out before dark" in mail.text
    assert "Never charge it frozen." in " ".join(mail.text.split())


def test_damp_over_many_craft_of_one_space_is_one_line_for_the_space(tmp_path):
    scene = Scene(tmp_path)
    fleet = [craft(f"B{n}", f"Boat {n}", "shed") for n in range(9)]
    scene.craft = {each.id: each for each in fleet}
    sweat = [
        Assessment(
            subject=Subject("shed", each.id, "block"),
            hazard=Hazard.DAMP,
            standing=Standing.SWEATING,
            at=FOUR,
            **written(
                "Block at 2.0 °C, the air's dew point at 5.3 °C.",
                "Keep the doors shut until the metal is above 5.3 °C.",
            ),
            now_c=2.0,
            limit_c=5.3,
            margin_k=-3.3,
            deadline=FOUR,
            ends=FOUR + timedelta(hours=9),
        )
        for each in fleet
    ]
    scene.judge(*sweat)
    scene.after(minutes=31)
    scene.judge(*sweat)
    (mail,) = scene.messages()
    assert "9 craft" in mail.text
    assert mail.text.count("Keep the doors shut") == 1


def test_nothing_is_told_of_damp_under_the_sky(tmp_path):
    scene = Scene(tmp_path)
    boat = craft("K6", "Coot", "rack")
    scene.craft = {"K6": boat}
    wet = replace(
        frost(boat, Standing.SWEATING, FOUR, hazard=Hazard.DAMP), subject=Subject("rack", "K6", "x")
    )
    for _ in range(5):
        scene.judge(wet)
        scene.after(hours=1)
    assert not scene.messages()


def silent(sensor, space, urgency):
    return Assessment(
        subject=Subject(space, "", sensor),
        hazard=Hazard.SILENCE,
        standing=Standing.SILENT,
        at=FOUR,
        **written(
            f"{sensor} was last heard at 15:20, 40 min ago; it usually sends every 5 min.",
            f"Look at {sensor}.",
        ),
        urgency=urgency,
        severity=Severity.MODERATE,
    )


def test_silence_in_the_cold_is_the_operators_and_stays_one_alarm_through_warm_noons(tmp_path):
    scene = Scene(tmp_path)
    scene.craft = {"K1": craft("K1", "Teal", "shed")}
    for n in range(48):
        cold = n % 24 < 16
        scene.judge(silent("shed-corner", "shed", Urgency.IMMEDIATE if cold else Urgency.EXPECTED))
        scene.after(hours=1)
    raised = [m for m in scene.messages("maren") if m.kind is MessageKind.ALARM]
    assert len(raised) == 1
    assert "shed-corner" in raised[0].text


def test_silence_in_the_warm_is_the_mechanics(tmp_path):
    scene = Scene(tmp_path)
    scene.craft = {"K1": craft("K1", "Teal", "shed")}
    for _ in range(4):
        scene.judge(silent("shed-corner", "shed", Urgency.EXPECTED))
        scene.after(hours=1)
    assert [message.person for message in scene.messages()] == [MECHANIC.id]


def test_a_sensor_of_an_empty_space_is_suppressed_by_design(tmp_path):
    scene = Scene(tmp_path)
    scene.craft = {"K1": craft("K1", "Teal", "shed")}
    for _ in range(4):
        scene.judge(silent("barn-corner", "barn", Urgency.IMMEDIATE))
        scene.after(hours=1)
    assert not scene.messages()


def test_judgements_that_stopped_coming_clear_nothing(tmp_path):
    scene = Scene(tmp_path)
    judged = cold_night(scene)
    scene.judge(*judged)
    for _ in range(50):
        scene.after(hours=1)
        scene.round.run(scene.craft)
    with scene.store.snapshot() as tx:
        assert {alarm.state for alarm in tx.alarms.open_alarms()} == {AlarmState.UNACKNOWLEDGED}
    assert MessageKind.ALL_CLEAR not in kinds(scene, "maren")


def test_a_circuit_inside_its_margin_is_no_alarm_and_one_that_the_band_reaches_is(tmp_path):
    """The cold edge of the band is margin enough: what lies above it, nine nights of ten spare."""
    scene = Scene(tmp_path)
    boat = craft("K1", "Teal", "shed")
    scene.craft = {"K1": boat}
    thin = frost(boat, Standing.THIN, FOUR, low_c=1.0)
    scene.judge(thin)
    assert not scene.messages()
    scene.judge(replace(thin, standing=Standing.EXPOSED, low_c=-0.5, margin_k=-0.5))
    assert len(scene.messages("maren")) == 1


def test_the_end_of_a_frost_does_not_clear_a_craft_that_had_ice_in_it(tmp_path):
    """Trade rule: no leak at thaw proves nothing; only a person who looked clears it."""
    scene = Scene(tmp_path)
    judged = cold_night(scene)[:1]
    scene.judge(*judged)
    scene.after(hours=3)
    scene.judge(*iced(judged, judged[0].subject.craft))
    scene.after(hours=1)
    scene.judge(*iced(judged, judged[0].subject.craft))
    warm = [replace(one, standing=Standing.HOLDING, margin_k=8.0) for one in judged]
    for _ in range(96):
        scene.after(hours=1)
        scene.judge(*warm)
    last = scene.messages("maren")[-1]
    assert last.kind is MessageKind.ALL_CLEAR
    assert "all clear" not in last.subject.lower()
    assert "look" in last.subject
    assert "LOOK FIRST: ICE WAS IN IT" in last.text


@pytest.mark.parametrize("ahead", [timedelta(hours=6), timedelta(days=3), timedelta(days=400)])
def test_a_clock_that_was_set_back_holds_up_no_letter(tmp_path, ahead):
    scene = Scene(tmp_path)
    teal, coot = craft("K1", "Teal", "shed"), craft("K2", "Coot", "shed")
    scene.craft = {each.id: each for each in (teal, coot)}
    scene.clock.advance_to(FOUR + ahead)
    wrong = FOUR + ahead + timedelta(hours=3)
    scene.judge(frost(teal, Standing.EXPOSED, FOUR, deadline=wrong))
    scene.clock = ReadingsClock(FOUR)
    scene.reopen()
    for _ in range(12):
        scene.judge(
            frost(teal, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=3)),
            frost(coot, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=4)),
        )
        scene.after(minutes=5)
    told = [m for m in scene.messages(OPERATOR.id) if m.created_at < FOUR + timedelta(hours=1)]
    assert any("Coot" in message.text for message in told)


def test_the_line_of_an_alarm_says_since_when_there_is_ice_and_by_when_there_will_be(tmp_path):
    scene = Scene(tmp_path)
    teal, coot = craft("K1", "Teal", "shed"), craft("K2", "Coot", "shed")
    scene.craft = {each.id: each for each in (teal, coot)}
    for _ in range(2):
        scene.judge(
            frost(teal, Standing.ICING, FOUR, deadline=FOUR - timedelta(hours=2)),
            frost(coot, Standing.EXPOSED, FOUR, deadline=FOUR + timedelta(hours=2)),
        )
        scene.after(minutes=20)
    with scene.store.snapshot() as tx:
        words = words_for(scene.yard, scene.clock.now())
        lines = {alarm.craft: headline_text(alarm, words) for alarm in tx.alarms.open_alarms()}
    assert "ice, since" in lines["K1"]
    assert "frost ahead, by" in lines["K2"]
    assert "ice point" in lines["K2"]
