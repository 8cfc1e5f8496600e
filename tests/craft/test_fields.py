"""The table of fields, the table of acts, and the bytes that both must keep."""

from dataclasses import fields, is_dataclass

import pytest

from monitor.craft.acts import ACTS, acts_that_take, fields_of
from monitor.craft.canonical import entry_json, entry_of
from monitor.craft.fields import BY_PATH, ENTERED_FIELDS, FIELDS, FieldKind
from monitor.craft.layup import Act, Evidence, LayupEntry, Product
from monitor.settings.layup_form import EntryForm, ProductForm
from monitor.web.api.entry_body import EntryBody, EvidenceBody, ProductBody
from tests.craft.random_entries import HASHES, hash_of, random_entries


def test_the_bytes_of_sixteen_hundred_entries_are_those_of_the_first_release():
    # Written by the code as it stood before the table: two mirror functions, field by field.
    hashes = HASHES.read_text().split()
    assert len(hashes) == 1600
    changed = [
        entry
        for entry, kept in zip(random_entries(), hashes, strict=True)
        if hash_of(entry) != kept
    ]
    assert changed == []


def test_every_one_of_them_reads_back():
    for entry in random_entries():
        back = entry_of(entry_json(entry))
        assert (back.at, set(back.circuits)) == (entry.at, set(entry.circuits))
        assert entry_json(back) == entry_json(entry)


def test_every_attribute_of_an_entry_stands_in_the_table_once():
    attributes = {one.name for one in fields(LayupEntry)} - {"product", "evidence"}
    for part, of in (("product", Product), ("evidence", Evidence)):
        assert is_dataclass(of)
        attributes |= {f"{part}.{one.name}" for one in fields(of)}
    assert sorted(field.path for field in FIELDS) == sorted(attributes)
    assert len({field.column for field in ENTERED_FIELDS}) == len(ENTERED_FIELDS)
    assert len({field.flag for field in ENTERED_FIELDS}) == len(ENTERED_FIELDS)


@pytest.mark.parametrize("field", [one for one in FIELDS if one.path != "craft"])
def test_every_door_has_every_field(field):
    form = ProductForm if field.part == "product" else EntryForm
    body = EntryBody.model_fields
    if field.part:
        body = {"product": ProductBody, "evidence": EvidenceBody}[field.part].model_fields
    assert field.file_key in form.model_fields
    assert field.json_key in body


@pytest.mark.parametrize("field", [one for one in FIELDS if one.kind is FieldKind.QUANTITY])
def test_a_number_past_its_limits_is_refused_and_one_on_them_is_not(field):
    assert field.refusal(field.high) is None
    assert field.refusal(field.high * 1.01 + 0.01) is not None
    assert (field.refusal(field.low) is None) is not field.above_low
    assert field.refusal(field.low - 0.01) is not None


def test_every_act_has_a_row_whose_fields_exist():
    assert set(ACTS) == set(Act)
    for act, row in ACTS.items():
        assert {field.path for field in fields_of(act)} <= set(BY_PATH)
        assert len(fields_of(act)) == len({field.path for field in fields_of(act)})
        assert set(row.needs) <= {field.path for field in fields_of(act)}
    for field in FIELDS:
        assert acts_that_take(field.path), f"no act takes {field.path}"


def test_names_of_acts_are_not_mixed_up():
    names = [row.name for row in ACTS.values()]
    assert len(set(names)) == len(names)
