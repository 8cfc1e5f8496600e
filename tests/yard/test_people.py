"""One person is one, however named; a name can be taken away and the record stays whole."""

import pytest

from monitor.wording import Units, Wording
from monitor.yard.people import check_witness, person_id

NAMES = {"ines": "Ines Aldaz", "tom": "Tom Varga", "tom-2": "Tom Quill", "p7": "Åke Ö."}


@pytest.mark.parametrize(
    ("said", "who"),
    [
        ("ines", "ines"),
        ("Ines Aldaz", "ines"),
        ("  ines   ALDAZ ", "ines"),
        ("Aldaz", "ines"),
        ("Tom", "tom"),  # an id goes before a part of a name
        ("Quill", "tom-2"),
        ("åke ö.", "p7"),
    ],
)
def test_a_person_is_found_by_id_name_or_a_part_no_other_has(said, who):
    assert person_id(said, NAMES) == who


def test_a_part_that_two_have_is_asked_for_by_id():
    with pytest.raises(ValueError, match="may be a or b; write the id"):
        person_id("Lee", {"a": "Lee One", "b": "Lee Two"})


def test_nobody_of_the_yard_is_refused_with_the_line_that_adds_a_helper():
    with pytest.raises(ValueError, match=r'vera-quill = "Vera Quill"'):
        person_id("Vera Quill", NAMES)
    with pytest.raises(ValueError, match=r"did you mean ines \(Ines Aldaz\)"):
        person_id("Innes Aldaz", NAMES)


def test_a_kept_sentence_holds_the_id_and_loses_the_name_with_it():
    kept = Wording(units=None, people=NAMES).person("ines")
    assert "Aldaz" not in kept
    read = Wording(units=Units(), people=NAMES)
    assert read.in_reader_units(f"drained by {kept}") == "drained by Ines Aldaz"
    erased = Wording(units=Units(), people={})
    assert erased.in_reader_units(f"drained by {kept}") == "drained by ines"


def test_a_name_of_an_older_entry_stays_as_it_was_written():
    assert Wording(units=Units(), people=NAMES).person("Sam Ostrander") == "Sam Ostrander"


@pytest.mark.parametrize(
    ("by", "witness"),
    [("ines", "ines"), ("ines", "ines-2"), ("Tom Varga", "tom  varga"), ("ines", "Ines Aldaz")],
)
def test_nobody_is_the_witness_of_own_work_nor_is_a_helper_of_the_same_name(by, witness):
    names = {**NAMES, "ines": "Ines Aldaz", "ines-2": "Ines Aldaz"}
    with pytest.raises(ValueError, match="is no witness of it"):
        check_witness(by, witness, names)
    check_witness(by, "vera", {**names, "vera": "Vera Q"})
    check_witness(by, "", names)
