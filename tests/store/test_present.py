"""The present judgements: read back as they were, and written only where a person sees a change."""

import json
import zlib
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import text

from monitor.craft.plan.shelf import USUAL_SHELF
from monitor.craft.plan.step import Ask, JobStep, StepKind
from monitor.craft.protection import Basis, LayupState
from monitor.errors import StoreError
from monitor.phrases.judgements import act_text
from monitor.phrases.names import Names
from monitor.store.packed_judgements import group_equal, pack_groups, unpack_judgements
from monitor.store.store import Store
from monitor.store.visible_picture import Difference, VisiblePicture
from monitor.wording import Wording
from monitor.yard.air_facts import AirFacts, LowBasis, LowMethod
from monitor.yard.assessment import Assessment, Hazard, Standing, Subject, WorkTurn
from monitor.yard.facts import SilenceFacts
from monitor.yard.frost_facts import FrostFacts, Occasion, PastIce, PlannedAct
from monitor.yard.space import Mount
from tests.reports import kettlemoss

NOW = datetime(2026, 11, 14, 22, 0, tzinfo=UTC)


def frost(craft: str = "k1", **changes: object) -> Assessment:
    made = Assessment(
        subject=Subject("shed", craft, "head"),
        hazard=Hazard.FROST,
        standing=Standing.EXPOSED,
        at=NOW,
        facts=FrostFacts(
            layup=LayupState.UNKNOWN,
            basis=Basis.UNKNOWN,
            past_ice=PastIce(as_water_at=NOW - timedelta(days=3)),
            lag_h=2.5,
            air_low_c=-6.31,
            low=LowBasis(method=LowMethod.PAST_NIGHTS, nights=3),
        ),
        calls_for_act=True,
        now_c=1.23,
        low_c=-5.02,
        deadline=NOW + timedelta(hours=3),
    )
    return replace(made, **changes)


def like(one: Assessment, *craft: str) -> list[Assessment]:
    turn = WorkTurn(order=1, minutes=30.0, done_in_h=0.5, too_late=False)
    return one.of_others((Subject("shed", each, "head"), turn) for each in craft)


def put(store: Store, judged: list[Assessment]) -> list[Assessment]:
    with store.transaction() as tx:
        return tx.assessments.replace_judgements(judged)


def row(store: Store) -> tuple[int, bytes]:
    with store.snapshot() as tx:
        found = tx.assessments._connection.execute(text("SELECT * FROM present_judgements")).one()
        return found.at_ms, found.body


def test_what_is_packed_comes_back_as_it_was_at_the_time_of_its_row():
    judged = [*like(frost(), "k1", "k2", "k3"), frost("k4", now_c=7.0)]
    packed = pack_groups(group_equal(judged))
    later = NOW + timedelta(minutes=5)
    back = {one.subject: one for one in unpack_judgements(packed, later)}
    for one in judged:
        found = back[one.subject]
        assert found.at == later
        # NaN differs from itself, so what is equal is their bytes.
        assert pack_groups(group_equal([replace(found, at=NOW)])) == pack_groups(group_equal([one]))


def test_an_act_comes_back_with_its_steps():
    step = JobStep(
        kind=StepKind.FILL_BY_HAND,
        circuits=("block",),
        minutes=60.0,
        product=USUAL_SHELF[0],
        quantity_l=24.0,
        asks=(Ask.READING,),
        reading_c=-32.0,
    )
    act = PlannedAct(occasion=Occasion.BEFORE_ICE, steps=(step,), by=NOW + timedelta(hours=3))
    judged = frost()
    judged = replace(judged, facts=replace(judged.facts, act=act))
    [back] = unpack_judgements(pack_groups(group_equal([judged])), NOW)
    assert back.facts.act == act


def test_a_sentence_that_an_earlier_program_left_for_an_act_is_still_read():
    picture = json.loads(zlib.decompress(pack_groups(group_equal([frost()]))))
    picture["groups"][0]["judgement"]["facts"]["act"] = "Before 20:20, drain it."
    [back] = unpack_judgements(zlib.compress(json.dumps(picture).encode()), NOW)
    yard = Names.of(kettlemoss.yard(), [])
    assert act_text(back, yard, Wording()) == "Before 20:20, drain it."


def test_parts_that_share_one_judgement_are_kept_once():
    many = like(frost(), *(f"k{n}" for n in range(500)))
    assert len(group_equal(many)) == 1
    assert len(group_equal([frost("k1"), frost("k2")])) == 2
    each_alone = [frost(f"k{n}") for n in range(500)]
    assert len(pack_groups(group_equal(many))) < len(pack_groups(group_equal(each_alone))) / 2


@pytest.mark.parametrize(
    ("changes", "difference"),
    [
        ({"now_c": 1.24}, Difference.NONE),
        ({"now_c": 1.26}, Difference.NONE),  # rounded it is another tenth
        ({"now_c": 1.38}, Difference.SLIGHT),
        ({"now_c": 2.28}, Difference.CLEAR),
        ({"now_c": float("nan")}, Difference.CLEAR),
        ({"deadline": NOW + timedelta(hours=3, seconds=20)}, Difference.NONE),
        ({"deadline": NOW + timedelta(hours=2, minutes=58)}, Difference.NONE),  # of three hours
        ({"deadline": NOW + timedelta(hours=2, minutes=50)}, Difference.SLIGHT),
        ({"deadline": NOW + timedelta(hours=2)}, Difference.CLEAR),
        ({"deadline": None}, Difference.CLEAR),
        ({"at": NOW + timedelta(minutes=1)}, Difference.NONE),
        ({"standing": Standing.ICING}, Difference.CLEAR),
        ({"calls_for_act": False}, Difference.CLEAR),
    ],
)
def test_a_picture_differs_only_by_what_a_person_sees(changes, difference):
    before, after = (
        VisiblePicture.of_groups(group_equal([one])) for one in (frost(), frost(**changes))
    )
    assert after.difference_from(before) is difference
    assert before.difference_from(after) is difference


@pytest.mark.parametrize(
    ("moved", "difference"),
    [
        (timedelta(minutes=10), Difference.NONE),
        (timedelta(minutes=50), Difference.SLIGHT),
        (timedelta(hours=4), Difference.CLEAR),
    ],
)
def test_the_hour_of_the_low_is_told_as_about(moved, difference):
    low_at = NOW + timedelta(hours=9)
    before, after = (
        VisiblePicture.of_groups(group_equal([frost(low_at=at)])) for at in (low_at, low_at + moved)
    )
    assert after.difference_from(before) is difference


@pytest.mark.parametrize(
    ("interval_s", "difference"),
    [
        (62.0, Difference.NONE),
        (119.0, Difference.NONE),
        (121.0, Difference.SLIGHT),
        (3600.0, Difference.SLIGHT),
        (float("nan"), Difference.CLEAR),
    ],
)
def test_the_pace_of_a_sensor_is_told_in_minutes(interval_s, difference):
    def heard(interval_s: float) -> Assessment:
        facts = SilenceFacts(mount=Mount.AIR, heard_at=NOW, interval_s=interval_s)
        return Assessment(
            subject=Subject("shed", "", "shed-corner"),
            hazard=Hazard.SILENCE,
            standing=Standing.STEADY,
            at=NOW,
            facts=facts,
            calls_for_act=False,
        )

    before, after = (
        VisiblePicture.of_groups(group_equal([heard(each)])) for each in (60.0, interval_s)
    )
    assert after.difference_from(before) is difference


def test_a_door_that_seems_to_open_and_shut_is_news_within_a_minute():
    facts = AirFacts(
        coldest_sensor="shed-corner",
        **dict.fromkeys(
            (
                "air_c", "warmest_air_c", "rh_pct", "dew_point_c", "condensation_point_c",
                "coldest_24h_c", "degree_hours_below_zero_24h", "wet_hours_24h", "fall_k_h",
                "sensors_apart_k", "low_expected_c", "low_band_high_c", "persistence_error_k",
                "public_error_k", "reaches_5c_in_h", "zero_without_heat_h",
            ),
            1.0,
        ),
        open_to_outside=False,
        sensors_differ=False,
        low=LowBasis(method=LowMethod.PAST_NIGHTS, nights=3),
        nights_checked=3,
    )  # fmt: skip
    shut = Assessment(
        subject=Subject("shed", "", ""),
        hazard=Hazard.AIR,
        standing=Standing.STEADY,
        at=NOW,
        facts=facts,
        calls_for_act=False,
    )
    opened = replace(shut, facts=replace(facts, open_to_outside=True))
    before, after = (VisiblePicture.of_groups(group_equal([one])) for one in (shut, opened))
    assert after.difference_from(before) is Difference.SLIGHT


def test_a_dose_that_moves_with_the_coming_low_is_one_more_figure():
    def planned(litres: float) -> Assessment:
        step = JobStep(
            kind=StepKind.FILL_BY_HAND, circuits=("block",), minutes=60.0, quantity_l=litres
        )
        act = PlannedAct(occasion=Occasion.BEFORE_ICE, steps=(step,))
        return frost(facts=replace(frost().facts, act=act))

    few, more, other = (
        VisiblePicture.of_groups(group_equal([one]))
        for one in (planned(2.0), planned(2.04), frost())
    )
    assert more.difference_from(few) is Difference.NONE
    assert other.difference_from(few) is Difference.CLEAR


def test_noise_around_the_edge_of_a_digit_is_written_once_and_a_drift_within_a_minute(store):
    put(store, [frost(now_c=1.24)])
    _, first = row(store)
    for n in range(1, 20):
        put(store, [frost(at=NOW + timedelta(seconds=6 * n), now_c=1.26 if n % 2 else 1.24)])
    assert row(store)[1] == first
    put(store, [frost(at=NOW + timedelta(seconds=126), now_c=1.36)])
    assert row(store)[1] != first


def test_a_round_that_found_nothing_new_writes_its_own_time_alone(store):
    put(store, [frost()])
    _, first = row(store)
    assert put(store, [frost(at=NOW + timedelta(seconds=30))]) == []
    assert row(store) == (int(NOW.timestamp() * 1000), first)  # not even that, for a minute
    put(store, [frost(at=NOW + timedelta(seconds=90))])
    at_ms, body = row(store)
    assert (at_ms, body) == (int((NOW + timedelta(seconds=90)).timestamp() * 1000), first)


def standings_elsewhere(url: str) -> list[Standing]:
    other = Store(url, "kettlemoss")
    with other.snapshot() as tx:
        found = [one.standing for one in tx.assessments.latest_judgements()]
    other.close()
    return found


def test_a_figure_is_written_within_fifteen_seconds(store):
    put(store, [frost()])
    _, first = row(store)
    put(store, [frost(at=NOW + timedelta(seconds=6), now_c=0.1)])
    assert row(store)[1] == first
    put(store, [frost(at=NOW + timedelta(seconds=16), now_c=0.1)])
    assert row(store)[1] != first


def test_a_changed_standing_is_read_elsewhere_at_once(store, url):
    put(store, [frost("k1"), frost("k2")])
    _, first = row(store)
    later = NOW + timedelta(seconds=1)
    icing = replace(frost("k2"), at=later, standing=Standing.ICING)
    assert put(store, [frost("k1", at=later), icing]) == [icing]
    assert row(store)[1] == first  # a thousand judgements need not be written for one
    assert standings_elsewhere(url) == [Standing.EXPOSED, Standing.ICING]
    assert put(store, [frost("k1", at=later), replace(icing, at=NOW + timedelta(seconds=2))]) == []
    assert standings_elsewhere(url) == [Standing.EXPOSED, Standing.ICING]


def test_a_process_that_starts_anew_knows_the_last_changes(store, url):
    put(store, [frost()])
    put(store, [frost(at=NOW + timedelta(seconds=1), standing=Standing.ICING)])
    anew = Store(url, "kettlemoss")
    again = frost(at=NOW + timedelta(seconds=3), standing=Standing.ICING)
    assert put(anew, [again]) == []
    anew.close()


def test_a_changed_standing_whose_transaction_failed_is_kept_by_the_next_round(store):
    put(store, [frost()])
    with pytest.raises(StoreError):
        _put_and_fail(store, [frost(at=NOW + timedelta(seconds=1), standing=Standing.ICING)])
    with store.snapshot() as tx:
        assert [one.standing for one in tx.assessments.latest_judgements()] == [Standing.EXPOSED]
    put(store, [frost(at=NOW + timedelta(seconds=2), standing=Standing.ICING)])
    with store.snapshot() as tx:
        changes = tx.assessments.changes_between(
            NOW + timedelta(seconds=1), NOW + timedelta(hours=1)
        )
    assert [one.standing for one in changes] == [Standing.ICING]


def test_the_process_that_judges_reads_the_newest_and_another_what_was_written(store, url):
    put(store, [frost()])
    put(store, [frost(at=NOW + timedelta(seconds=6), now_c=0.1)])
    with store.beside(1).snapshot() as tx:
        assert [one.now_c for one in tx.assessments.latest_judgements()] == [0.1]
    other = Store(url, "kettlemoss")
    with other.snapshot() as tx:
        assert [one.now_c for one in tx.assessments.latest_judgements()] == [1.23]
    other.close()


def test_a_picture_whose_transaction_failed_is_written_by_the_next_round(store):
    put(store, [frost()])
    with pytest.raises(StoreError):
        _put_and_fail(store, [frost(at=NOW + timedelta(seconds=20), now_c=-3.0)])
    put(store, [frost(at=NOW + timedelta(seconds=21), now_c=-3.0)])
    with store.snapshot() as tx:
        body = tx.assessments._connection.execute(
            text("SELECT body FROM present_judgements")
        ).scalar_one()
    assert unpack_judgements(body, NOW)[0].now_c == -3.0


def test_a_subject_that_is_no_longer_judged_is_no_longer_there(store, url):
    put(store, [frost("k1"), frost("k2")])
    put(store, [frost("k1", at=NOW + timedelta(seconds=1))])
    other = Store(url, "kettlemoss")
    with other.snapshot() as tx:
        assert [one.subject.craft for one in tx.assessments.latest_judgements()] == ["k1"]
    other.close()


def _put_and_fail(store: Store, judged: list[Assessment]) -> None:
    with store.transaction() as tx:
        tx.assessments.replace_judgements(judged)
        raise StoreError("the disk is full")
