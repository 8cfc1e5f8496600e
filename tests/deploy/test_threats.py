"""The table of threats names controls and tests that there are."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "deploy" / "THREATS.md").read_text(encoding="utf-8")
TABLE = TEXT.partition("## Threats")[2].partition("\n## ")[0]
ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in TABLE.splitlines()
    if line.startswith("|") and not line.startswith(("| from", "| ---"))
]
AREAS = {
    "sensor network", "page", "links", "mails", "updates", "the person at the keyboard",
    "the machine", "public forecast",
}  # fmt: skip


def test_each_way_in_has_rows():
    assert {row[0] for row in ROWS} == AREAS


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[0]}: {row[1]}")
def test_each_row_names_its_control_and_a_test_that_there_is(row):
    _, threat, control, held_by, _ = row
    assert threat
    assert control
    tests = re.findall(r"`(tests/[^`]+)`", held_by)
    assert tests
    for named in tests:
        file, _, function = named.partition("::")
        assert (ROOT / file).exists(), named
        if function:
            assert f"def {function}(" in (ROOT / file).read_text(encoding="utf-8"), named


def test_files_that_the_controls_name_are_there():
    for named in re.findall(r"`((?:mosquitto|nginx|systemd|postgresql)/[^`]+)`", TABLE):
        assert (ROOT / "deploy" / named).exists(), named
