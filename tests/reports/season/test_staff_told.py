"""Who of the yard was told of a craft's alarms: in figures, JSON, pages and proof; none of others'.

The messages are those that a round of alarms writes, over a store.
"""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import create_engine, text

from monitor.alarms.acts.alarm_acts import acknowledge_thread_within
from monitor.alarms.round import AlarmRound
from monitor.clock import ReadingsClock
from monitor.craft.canonical import canonical_bytes
from monitor.craft.record_check import check_record
from monitor.craft.sealing import DIGESTS, SEAL, YardKey, seal_record
from monitor.craft.signing_key import SigningKey, TrustedKey
from monitor.reports.season.page_blocks import Told
from monitor.reports.season.record_sealer import RecordSealer
from monitor.reports.season.season_json import season_json
from monitor.reports.season.short_words import short_lines
from monitor.store.closing_days import close_due_days
from monitor.store.store import Store
from monitor.yard.assessment import Standing
from monitor.yard.message import DeliveryOutcome, Receipt
from monitor.yard.space import Person, Role
from tests.alarms.scene import craft, frost
from tests.commands.test_record_page import agree, page  # noqa: F401  (a fixture)
from tests.real.stores import scene_url
from tests.reports.season import winter
from tests.reports.season.test_record_words import WORDS, pages_of, said_in, table_of
from tests.reports.season.winter import ARRIVED, NOW, SHED, YEAR, ZONE, figures_of, put_craft

AT = datetime(2026, 11, 14, 16, tzinfo=ZONE).astimezone(UTC)
MINUTE = timedelta(minutes=1)
STAFF = (
    Person(id="ines", name="Ines Marrow", mail="ines@kettlemoss.example",
           channels=("mail", "text-post"), phone="715-555-0142",
           roles=frozenset({Role.OPERATOR})),
    Person(id="joss", name="Joss Keld", mail="joss@kettlemoss.example",
           roles=frozenset({Role.OPERATOR})),
    Person(id="sam", name="Sam Rook", mail="sam@kettlemoss.example",
           roles=frozenset({Role.OPERATOR})),
)  # fmt: skip
OWNERS = tuple(
    Person(id=one, name=name, mail=f"{one}@lake.example", roles=frozenset({Role.OWNER}))
    for one, name in (("wren", "Wren Halloway"), ("abel", "Abel Tarn"))
)
FATES = {
    ("ines", "mail"): Receipt(outcome=DeliveryOutcome.TAKEN, detail="250 ok"),
    ("ines", "text-post"): Receipt(outcome=DeliveryOutcome.REFUSED, detail="no 715-555-0142"),
    ("joss", "mail"): Receipt(
        outcome=DeliveryOutcome.REFUSED, detail="given up after 9 tries: no answer"
    ),
}  # of Sam's nothing came yet


@pytest.fixture
def url(tmp_path):
    return scene_url(tmp_path)


@pytest.fixture
def store(url):
    """Teal and Heron, of two owners, told of in the same letters; Joss answers after 22 minutes."""
    made = Store(url, "kettlemoss")
    put_craft(made)
    put_craft(made, craft="k2", name="Heron", owner="abel")
    winter.put_readings(made, ARRIVED, AT + timedelta(days=2), lambda _: -4.0)
    the_yard = winter.yard(people=(*STAFF, *OWNERS))
    fleet = {
        "k1": craft("k1", "Teal", SHED, "wren"),
        "k2": craft("k2", "Heron", SHED, "abel"),
    }
    with made.transaction() as tx:
        tx.assessments.replace_judgements(
            frost(one, Standing.EXPOSED, AT, deadline=AT + timedelta(hours=5))
            for one in fleet.values()
        )
    AlarmRound(made, the_yard, ReadingsClock(AT)).run(fleet)
    with made.transaction() as tx:
        sent = [one for one, _ in tx.outbox.newest_messages()]
        for one in sent:
            if (receipt := FATES.get((one.person, one.channel))) is not None:
                tx.outbox.settle_attempt(one.key, AT + 2 * MINUTE, receipt, None)
        thread = next(one.thread for one in sent if one.person == "joss")
        acknowledge_thread_within(tx, thread, "joss", "", AT + 22 * MINUTE)
    yield made
    made.close()


def record_of(store, key=None, craft_id="k1", people=(*STAFF, *OWNERS)):
    figures = figures_of(store, craft_id, people=people)
    body = season_json(figures, winter.yard(people=people))
    if key is None:
        return figures, body
    with store.snapshot() as tx:
        sealer = RecordSealer(tx, winter.yard(people=people), YardKey(key=key), YEAR, NOW)
        return figures, sealer.seal_figures(figures, body)


def test_each_alarm_says_who_was_told_by_which_way_and_what_came_of_it(store):
    _, body = record_of(store)
    [alarm] = body["alarms"]
    found = {(one["person"], one["channel"]): one for one in alarm["told"]}
    assert {way: one["outcome"] for way, one in found.items()} == {
        ("ines", "mail"): "taken",
        ("ines", "text-post"): "refused",
        ("joss", "mail"): "given up",
        ("sam", "mail"): "waiting",
    }
    assert {one["role"] for one in found.values()} == {"operator"}
    assert {one["at"] for one in found.values()} == {"2026-11-14T22:00:00Z"}
    taken = {way: one["taken_at"] for way, one in found.items() if one["taken_at"]}
    assert taken == {("ines", "mail"): "2026-11-14T22:02:00Z"}
    assert alarm["answered_by"] == "joss"
    assert (alarm["waited_s"], alarm["answered_after_s"]) == (22 * 60, 20 * 60)
    assert alarm["told_is_whole"] is True
    assert "messages to staff" not in body["not_proved"]
    assert {one: body["people"][one] for one in ("ines", "joss", "sam")} == {
        "ines": "Ines Marrow", "joss": "Joss Keld", "sam": "Sam Rook",
    }  # fmt: skip


def test_no_address_number_or_craft_of_another_owner_is_in_it(store):
    figures, sealed = record_of(store, SigningKey.make_new())
    said = json.dumps(sealed, ensure_ascii=False)
    pages = pages_of(figures)
    shown = json.dumps(
        [
            one if isinstance(one, str) else one.rows
            for part in pages.parts
            for one in part.blocks
            if isinstance(one, str | Told)
        ],
        ensure_ascii=False,
    )
    for text_ in (said, shown):
        assert "Joss" in text_ or "joss" in text_  # it is of the letters at all
        for other in ("Heron", '"k2"', "abel", "Abel", "@kettlemoss", "@lake", "715-555", "250 ok"):
            assert other not in text_


def test_the_pages_show_what_failed_first_and_how_soon_somebody_answered(store):
    people = {one.id: one.name for one in STAFF}
    figures, _ = record_of(store)
    pages = pages_of(figures)
    table = table_of(pages, "Who of the yard's people")
    ways = [(row[2], row[3], row[4].split(",")[0], row[5]) for row in table.rows]
    assert ways[-1][1] == "mail"
    assert ways[-1][3] == "20 min later"
    assert {row[2] for row in ways[:-1]} == {"refused", "given up", "waiting"}
    said = " ".join(said_in(pages))
    assert "4 times" in said
    assert "1 taken by the receiver's server, 1 refused, 1 given up, 1 still waiting" in said
    short = "\n".join(short_lines(figures, winter.yard(), replace(WORDS, people=people)))
    assert "Times that the yard's people were told of them: 4, taken 1." in short


def test_an_alarm_of_which_no_message_was_taken_is_said_to_be_one(store, url):
    engine = create_engine(url)
    with engine.begin() as connection:
        connection.execute(text("UPDATE delivery_attempts SET outcome = 'refused'"))
        connection.execute(text("UPDATE outbox SET outcome = 'refused'"))
    engine.dispose()
    figures, body = record_of(store)
    assert body["alarms"][0]["answered_after_s"] is None
    said = " ".join(said_in(pages_of(figures)))
    assert "Of 1 alarm no message to the yard's people was taken." in said


def test_letters_of_an_earlier_release_are_not_taken_for_silence(store, url):
    engine = create_engine(url)
    with engine.begin() as connection:  # as revision 0038 kept them
        connection.execute(text("UPDATE outbox SET role = NULL"))
        connection.execute(text("DELETE FROM outbox_alarms"))
    engine.dispose()
    figures, body = record_of(store)
    [alarm] = body["alarms"]
    assert (alarm["told"], alarm["told_is_whole"]) == ([], False)
    assert "messages to staff" in body["not_proved"]
    said = " ".join(said_in(pages_of(figures)))
    assert "For 1 alarm messages may be missing here" in said
    assert "no message to the yard's people was taken" not in said


def test_who_was_told_stands_in_the_tree_of_its_day_and_both_checks_see_a_change(store, page):  # noqa: F811
    close_due_days(store, NOW)
    key = SigningKey.make_new()
    _, sealed = record_of(store, key)
    agree(page, canonical_bytes(sealed), [key.public])
    assert check_record(canonical_bytes(sealed), [TrustedKey.from_text(key.public)]).holds
    [group] = [
        one for day in sealed["proof"]["days"] for one in day["groups"] if one["of"][0] == "told"
    ]
    [alarm] = sealed["alarms"]
    assert group["of"] == ["told", SHED, "k1"]
    leaves = {tuple(one) for one in group["leaves"]}
    kept = {
        (alarm["id"], one["at"], one["person"], one["role"], one["channel"], one["kind"])
        for one in alarm["told"]
    }
    assert leaves == kept
    group["leaves"][0][2] = "somebody"
    del sealed[DIGESTS], sealed[SEAL]
    forged = canonical_bytes(seal_record(sealed, key))  # the yard itself seals it anew
    found = agree(page, forged, [key.public])
    assert not found.holds
    assert "told" in found.misfits[0].words
