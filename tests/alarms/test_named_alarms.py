"""Which alarms a message is kept to tell of: those whose name a reader can find in it."""

from dataclasses import replace
from datetime import timedelta

from sqlalchemy import create_engine, text

from monitor.yard.message import MessageKind
from monitor.yard.space import Role
from tests.alarms.scene import FOUR, MECHANIC, OPERATOR, OWNERS, Scene, cold_night, yard

PHONED = replace(OPERATOR, channels=("mail", "text-post"), phone="715-555-0142")
SAM = replace(OPERATOR, id="sam", name="Sam Rook", mail="sam@yard.example")


def told_craft(scene, key):
    """Craft of the alarms that a message is kept to tell of, read with plain SQL."""
    asked = text(
        "SELECT a.craft FROM outbox_alarms o JOIN alarms a"
        " ON a.yard_id = o.yard_id AND a.alarm_id = o.alarm_id WHERE o.key = :key"
    )
    engine = create_engine(scene.url)
    try:
        with engine.connect() as connection:
            return {craft for (craft,) in connection.execute(asked, {"key": key})}
    finally:
        engine.dispose()


def named_craft(scene, message):
    """Craft whose name stands in what a reader gets; no name here is part of another."""
    said = message.subject + message.text
    said += "".join(a.content.decode() for a in message.attachments if a.filename[-4:] == ".csv")
    return {one.id for one in scene.craft.values() if one.name in said}


def test_a_mail_is_kept_to_tell_of_each_craft_and_a_text_only_of_those_it_names(tmp_path):
    scene = Scene(tmp_path, yard((PHONED, MECHANIC, *OWNERS)))
    scene.judge(*cold_night(scene))
    with scene.store.snapshot() as tx:
        alarmed = {one.craft for one in tx.alarms.open_alarms()}
    assert len(alarmed) == 8  # NIGHT of the scene
    by_way = {(one.person, one.channel): one for one in scene.messages()}
    mail, short = by_way["maren", "mail"], by_way["maren", "text-post"]
    assert told_craft(scene, mail.key) == named_craft(scene, mail) & alarmed == alarmed
    assert told_craft(scene, short.key) == named_craft(scene, short)
    assert 0 < len(told_craft(scene, short.key)) < len(alarmed)
    assert (mail.role, short.role) == ("operator", "operator")
    for message in scene.messages():
        if message.person.startswith("owner"):
            assert message.role == "owner"
            owned = {one.id for one in scene.craft.values() if one.owner == message.person}
            assert told_craft(scene, message.key) <= owned


def test_a_name_cut_short_in_a_text_is_still_that_crafts_name(tmp_path):
    scene = Scene(tmp_path, yard((PHONED,)))
    judged = cold_night(scene)
    long = "The Grand Old Lady of the Western Reach"
    scene.craft = {**scene.craft, "K11": replace(scene.craft["K11"], name=long)}
    scene.judge(*judged)
    (short,) = [one for one in scene.messages("maren") if one.channel == "text-post"]
    assert long not in short.text
    assert "K11" in told_craft(scene, short.key)


def test_a_line_of_who_has_it_tells_of_what_was_taken_on(tmp_path):
    scene = Scene(tmp_path, yard((OPERATOR, SAM)))
    judged = cold_night(scene)
    scene.judge(*judged)
    scene.acknowledge_thread(scene.messages("maren")[0].thread, by="maren")
    scene.after(minutes=4)
    scene.judge(*judged)
    [notice] = [one for one in scene.messages("sam") if one.kind is MessageKind.NOTICE]
    assert notice.role == str(Role.OPERATOR)
    assert told_craft(scene, notice.key) == named_craft(scene, notice)
    assert 0 < len(told_craft(scene, notice.key)) < 8  # it names six and counts the rest


def test_of_letters_of_an_earlier_release_nobody_knows_what_they_told(tmp_path):
    scene = Scene(tmp_path, yard((OPERATOR,)))
    scene.judge(*cold_night(scene))
    span = FOUR - timedelta(days=1), FOUR + timedelta(days=1)
    with scene.store.snapshot() as tx:
        assert tx.told_alarms.last_unnamed(*span) is None
        [alarm, *_] = tx.alarms.open_alarms()
        assert len(tx.told_alarms.tellings_of_each([alarm.id])[alarm.id]) == 1
    engine = create_engine(scene.url)
    with engine.begin() as connection:  # as revision 0038 left them
        connection.execute(text("UPDATE outbox SET role = NULL"))
        connection.execute(text("DELETE FROM outbox_alarms"))
    engine.dispose()
    with scene.store.snapshot() as tx:
        assert tx.told_alarms.last_unnamed(*span) == FOUR
        assert tx.told_alarms.tellings_of_each([alarm.id]) == {alarm.id: []}
        assert [one for one, _ in tx.outbox.newest_messages()], "they can be read all the same"
