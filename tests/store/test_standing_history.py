"""What one craft, or one time, is asked of: the same rows as of the whole, and no others."""

from datetime import UTC, datetime, timedelta

import pytest

from monitor.store.store import Store
from monitor.yard.assessment import Assessment, Hazard, Origin, Standing, Subject
from monitor.yard.message import Message, MessageKind
from tests.reports import kettlemoss
from tests.written import written

NOW = datetime(2026, 11, 14, 22, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)


def judged(craft: str, standing: Standing, at: datetime, space: str = "shed") -> Assessment:
    return Assessment(
        subject=Subject(space, craft, "head"), hazard=Hazard.FROST, standing=standing, at=at,
        **written("because"),
    )  # fmt: skip


@pytest.fixture
def season(store):
    """Two craft, of which one is judged worse at each of three hours."""
    for n, standing in enumerate((Standing.HOLDING, Standing.THIN, Standing.EXPOSED)):
        at = NOW + n * HOUR
        with store.transaction() as tx:
            tx.assessments.replace_judgements(
                [judged("k1", standing, at), judged("k2", Standing.HOLDING, at)],
                {"k1": Origin(program=f"1.{n}", settings="abc", profile="def")},
            )
    return store


def test_changes_of_one_craft_are_its_own_in_time_order_and_say_what_made_them(season):
    with season.snapshot() as tx:
        found = tx.standing_history.changes_of_craft("k1", NOW)
    assert [one.seen.standing for one in found] == [
        Standing.HOLDING, Standing.THIN, Standing.EXPOSED,
    ]  # fmt: skip
    assert [one.origin.program for one in found] == ["1.0", "1.1", "1.2"]


@pytest.mark.parametrize(
    ("at", "standing"),
    [
        (NOW, Standing.HOLDING),
        (NOW + 1.5 * HOUR, Standing.THIN),
        (NOW + 9 * HOUR, Standing.EXPOSED),
    ],
)
def test_a_past_hour_shows_the_last_change_until_then(season, at, standing):
    with season.snapshot() as tx:
        whole = tx.standing_history.standings_at(at)
        alone = tx.standing_history.standings_at(at, "k1")
    assert {one.seen.subject.craft: one.seen.standing for one in whole} == {
        "k1": standing, "k2": Standing.HOLDING,
    }  # fmt: skip
    assert [one.seen.standing for one in alone] == [standing]


def test_before_the_first_judgement_nothing_was_known(season):
    with season.snapshot() as tx:
        assert tx.standing_history.standings_at(NOW - HOUR) == []


def test_one_craft_s_judgements_are_those_of_the_whole_round(store):
    kettlemoss.fill(store)
    with store.snapshot() as tx:
        whole = tx.assessments.latest_judgements()
        spaces = {one.subject.space for one in whole}
        for craft in ("", "K4", "K12", "none"):
            own = [one for one in whole if one.subject.craft == craft]
            assert tx.assessments.latest_in(spaces, craft) == own
        shed = [one for one in whole if one.subject.space == "long-shed"]
        assert tx.assessments.latest_in(["long-shed"]) == shed


def test_another_process_reads_the_same_of_one_craft(store, url):
    kettlemoss.fill(store)
    other = Store(url, "kettlemoss")
    try:
        with store.snapshot() as here, other.snapshot() as there:
            ours = here.assessments.latest_in(["long-shed", "bench"], "K8")
            theirs = there.assessments.latest_in(["long-shed", "bench"], "K8")
    finally:
        other.close()
    assert [(one.subject, one.hazard, one.standing) for one in theirs] == [
        (one.subject, one.hazard, one.standing) for one in ours
    ]
    assert ours


def test_alarms_of_a_craft_with_all_that_became_of_each(store):
    kettlemoss.fill(store)
    with store.snapshot() as tx:
        own = tx.alarms.of_craft("K11")
        histories = tx.alarms.histories_of([one.id for one in own])
        assert [one.craft for one in own] == ["K11"]
        for one in own:
            assert histories[one.id] == tx.alarms.history_of(one.id)
        assert tx.alarms.of_craft("K1") == []


def test_letters_to_one_person_are_nobody_else_s(store):
    def letter(person: str, hour: int) -> Message:
        return Message(
            key=f"{person}-{hour}", person=person, channel="mail", address="a@b.example",
            kind=MessageKind.ALARM, subject=f"{hour}", text="", created_at=NOW + hour * HOUR,
        )  # fmt: skip

    with store.transaction() as tx:
        tx.outbox.add([letter("wren", 1), letter("tobin", 2), letter("wren", 3)])
    with store.snapshot() as tx:
        assert [one.subject for one, _ in tx.outbox.messages_to("wren", 9)] == ["3", "1"]
        assert [one.subject for one, _ in tx.outbox.messages_to("wren", 1)] == ["3"]
