"""The canonical form of entries, which must never change: hashes of past winters are over it."""

import hashlib
import json
from dataclasses import replace

from hypothesis import given, settings

from monitor.craft.breaks import Tampering, break_of
from monitor.craft.canonical import derived_id, entry_json, entry_of
from monitor.craft.links import FIRST
from tests.craft.scene import NOON, STRONG, entry_link, twelve, work
from tests.craft.test_account import entries
from tests.tried import tried

POUR = work("antifreeze-poured", 0, "water-box", product=STRONG, quantity_l=1.5)


def test_the_form_is_the_canonical_one_of_rfc_8785():
    # RFC 8785: no white space, keys sorted, 1.0 written 1 and 0.5 written 0.5.
    poured = work("antifreeze-poured", 0, "water-box", product=STRONG, quantity_l=1.0, id="a")
    one = entry_link(poured, 0, NOON, FIRST)
    assert one.body == (
        '{"before":"' + "0" * 64 + '","entry":{"act":"antifreeze-poured",'
        '"at":"2026-11-01T18:00:00Z","by":"Ines Aldaz","circuits":["water-box"],"craft":"k1",'
        '"id":"a","product":{"glycol_mass_fraction":0.5,"liquid":"propylene",'
        '"name":"pink, 50 %"},"quantity_l":1},"number":0,"written_at":"2026-11-01T18:00:00Z"}'
    )
    assert one.hash == hashlib.sha256(one.body.encode()).hexdigest()


@settings(max_examples=tried(40), deadline=None)
@given(entries())
def test_an_entry_reads_back_as_it_was_written(entry):
    back = entry_of(json.loads(json.dumps(entry_json(entry))))
    assert back == replace(entry, circuits=tuple(sorted(entry.circuits)))


def test_the_yards_whole_record_reads_back():
    for record in twelve().values():
        for entry in record.entries:
            assert entry_of(entry_json(entry)) == replace(
                entry, circuits=tuple(sorted(entry.circuits))
            )


def test_the_same_work_written_twice_has_one_id_and_other_work_another():
    assert derived_id(POUR) == derived_id(replace(POUR, id="anything"))
    assert derived_id(POUR) != derived_id(replace(POUR, by="Tom Varga"))


def test_only_a_break_that_names_its_work_is_answered_by_a_correction_of_it():
    words = ("k1", "entry book of moves", Tampering.CHANGED, "is not what was written")
    assert not break_of(*words).entry_stands
    assert "--compared" in break_of(*words).remedy
    assert break_of(*words, entry="4be1").entry_stands
    gone = ("k1", "entry 4be1", Tampering.DELETED, "is gone")
    assert not break_of(*gone, entry="4be1").entry_stands
