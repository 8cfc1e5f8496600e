"""Work of a file that names people: one person is one, and nothing is entered twice."""

from dataclasses import replace

from monitor.craft.canonical import derived_id
from monitor.craft.layup import Act
from monitor.yard.named_work import entries_by_id
from tests.craft.scene import work

NAMES = {"ines": "Ines Aldaz", "tom": "Tom Varga"}
BY_NAME = work(Act.FLUSHED, 0, witness="tom varga")
BY_ID = work(Act.FLUSHED, 0, by="ines", witness="tom")


def test_new_work_is_entered_under_the_ids_of_its_people():
    assert entries_by_id([BY_NAME], [], NAMES) == (BY_ID,)
    assert BY_ID.id == derived_id(BY_ID)


def test_the_same_work_is_the_same_whether_named_or_by_id():
    assert entries_by_id([BY_NAME], [BY_NAME], NAMES) == (BY_NAME,)
    assert entries_by_id([BY_NAME], [BY_ID], NAMES) == (BY_ID,)
    assert entries_by_id([BY_ID], [BY_NAME], NAMES) == (BY_NAME,)


def test_an_id_that_somebody_gave_stays_and_a_made_one_is_made_anew():
    given = replace(BY_NAME, id="flush-1")
    [found] = entries_by_id([given], [], NAMES)
    assert (found.id, found.by) == ("flush-1", "ines")


def test_a_correction_follows_the_entry_that_it_corrects():
    right = work(Act.FLUSHED, 1, replaces=BY_NAME.id)
    corrected, wrong = entries_by_id([right, BY_NAME], [], NAMES)
    assert wrong.id == BY_ID.id
    assert corrected.replaces == BY_ID.id
    # And the same file again, with the first of both on record under its old name.
    corrected, wrong = entries_by_id([right, BY_NAME], [BY_NAME], NAMES)
    assert (wrong, corrected.replaces) == (BY_NAME, BY_NAME.id)


def test_who_is_nobody_of_the_yard_keeps_the_name_that_was_written():
    once = work(Act.FLUSHED, 0, by="A helper of long ago")
    assert entries_by_id([once], [], NAMES) == (once,)
